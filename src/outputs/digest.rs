//! Lengths and sums of the open data's files, as the descriptor tells them.

use super::output::Heard;
use sha2::{Digest as _, Sha256};
use std::fmt::Write as _;
use std::io;

/// What a reader can check a file by.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Digest {
    /// Its length in bytes.
    pub bytes: u64,
    /// Its SHA-256 (FIPS 180-4), in hexadecimal digits.
    pub sha256: String,
}

impl Digest {
    /// Of a file's bytes.
    pub fn of(bytes: &[u8]) -> Digest {
        let digest = Digest::passing(&mut io::sink(), |out| out.write_all(bytes));
        digest.expect("a sink takes everything")
    }

    /// Of what a function writes on to somewhere.
    pub fn passing(
        to: &mut dyn io::Write,
        write: impl FnOnce(&mut dyn io::Write) -> io::Result<()>,
    ) -> io::Result<Digest> {
        let (mut bytes, mut sum) = (0, Sha256::new());
        let hear = |piece: &[u8]| {
            bytes += piece.len() as u64;
            sum.update(piece);
        };
        write(&mut Heard { to, hear })?;
        let mut sha256 = String::with_capacity(64);
        for byte in sum.finalize() {
            // Writing into a text does not fail.
            let _ = write!(sha256, "{byte:02x}");
        }
        Ok(Digest { bytes, sha256 })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sum_is_that_of_the_standard_s_own_example() {
        // FIPS 180-4's example message "abc", from NIST's example values.
        assert_eq!(
            Digest::of(b"abc"),
            Digest {
                bytes: 3,
                sha256: "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad".into()
            }
        );
    }
}
