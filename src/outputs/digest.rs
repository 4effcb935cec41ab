//! Lengths and sums of the open data's files, as the descriptor tells them.

use sha2::{Digest as _, Sha256};
use std::fmt::Write as _;
use std::io::{self, Write as _};

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
        let mut digested = Digesting::new(io::sink());
        digested.write_all(bytes).expect("a sink takes everything");
        digested.end()
    }
}

/// Hands bytes on and works out their digest.
pub(super) struct Digesting<W> {
    to: W,
    bytes: u64,
    sha256: Sha256,
}

impl<W: io::Write> Digesting<W> {
    pub fn new(to: W) -> Self {
        Digesting {
            to,
            bytes: 0,
            sha256: Sha256::new(),
        }
    }

    /// The digest of what was written.
    pub fn end(self) -> Digest {
        let mut sha256 = String::with_capacity(64);
        for byte in self.sha256.finalize() {
            // Writing into a text does not fail.
            let _ = write!(sha256, "{byte:02x}");
        }
        Digest {
            bytes: self.bytes,
            sha256,
        }
    }
}

impl<W: io::Write> io::Write for Digesting<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.to.write(bytes)?;
        self.bytes += written as u64;
        self.sha256.update(&bytes[..written]);
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.to.flush()
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
