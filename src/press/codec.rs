//! How the press writes its own files: a title, numbers and texts, a checksum.
//!
//! A file is read whole or not at all: a byte changed, missing or added
//! anywhere makes [`open`] fail with a reason. Numbers are written in seven-bit
//! groups, least first; texts as their length and UTF-8; a sorted list of paths
//! stores of each only what differs from the one before.

use super::manifest::Sum;
use blake3::Hash;

/// Bytes of the checksum at the end.
const CHECKSUM: usize = 32;

/// A file under way.
pub struct Writer(Vec<u8>);

impl Writer {
    /// Begins a file with its title, which names its kind and version.
    pub fn new(title: &str) -> Self {
        let mut writer = Writer(Vec::with_capacity(1 << 16));
        writer.text(title);
        writer
    }

    /// A whole number.
    pub fn number(&mut self, mut number: u64) {
        while number >= 0x80 {
            self.0.push((number as u8 & 0x7f) | 0x80);
            number >>= 7;
        }
        self.0.push(number as u8);
    }

    /// How many things follow, or a place in a table.
    pub fn count(&mut self, count: usize) {
        self.number(count as u64);
    }

    /// Eight bytes as they are.
    pub fn word(&mut self, word: u64) {
        self.0.extend_from_slice(&word.to_le_bytes());
    }

    /// A text.
    pub fn text(&mut self, text: &str) {
        self.count(text.len());
        self.0.extend_from_slice(text.as_bytes());
    }

    /// A text, as what it doesn't share with the one before.
    pub fn text_after(&mut self, before: &str, text: &str) {
        let same = before
            .bytes()
            .zip(text.bytes())
            .take_while(|(a, b)| a == b)
            .count();
        let same = (0..=same)
            .rev()
            .find(|&at| text.is_char_boundary(at) && before.is_char_boundary(at))
            .unwrap_or(0);
        self.count(same);
        self.text(&text[same..]);
    }

    /// A hash.
    pub fn hash(&mut self, hash: &Hash) {
        self.0.extend_from_slice(hash.as_bytes());
    }

    /// A sum.
    pub fn sum(&mut self, sum: Sum) {
        self.0.extend_from_slice(&sum.0);
    }

    /// The finished file.
    pub fn seal(mut self) -> Vec<u8> {
        let checksum = blake3::hash(&self.0);
        self.0.extend_from_slice(checksum.as_bytes());
        self.0
    }
}

/// Why a file of the press can't be used.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unreadable(pub String);

impl std::fmt::Display for Unreadable {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

/// A file being read.
pub struct Reader<'b>(&'b [u8]);

/// Checks a file's checksum and title.
///
/// # Errors
/// [`Unreadable`] if it is damaged, or of another kind or version.
pub fn open<'b>(bytes: &'b [u8], title: &str) -> Result<Reader<'b>, Unreadable> {
    let damaged = || Unreadable("its checksum is wrong".to_owned());
    let at = bytes.len().checked_sub(CHECKSUM).ok_or_else(damaged)?;
    let (body, checksum) = bytes.split_at(at);
    // The title first: another version may end otherwise.
    let mut reader = Reader(body);
    if reader.text().ok() != Some(title) {
        return Err(Unreadable(format!("it doesn't begin with `{title}`")));
    }
    if blake3::hash(body).as_bytes() != checksum {
        return Err(damaged());
    }
    Ok(reader)
}

fn short() -> Unreadable {
    Unreadable("it ends too early".to_owned())
}

impl<'b> Reader<'b> {
    fn take(&mut self, count: usize) -> Result<&'b [u8], Unreadable> {
        let (taken, rest) = self.0.split_at_checked(count).ok_or_else(short)?;
        self.0 = rest;
        Ok(taken)
    }

    /// A whole number.
    pub fn number(&mut self) -> Result<u64, Unreadable> {
        let mut number = 0_u64;
        for shift in (0..64).step_by(7) {
            let byte = self.take(1)?[0];
            number |= u64::from(byte & 0x7f) << shift;
            if byte < 0x80 {
                return Ok(number);
            }
        }
        Err(Unreadable("a number is too long".to_owned()))
    }

    /// How many things follow. Never more than the bytes that are left, so a
    /// count can be trusted to make room for.
    pub fn count(&mut self) -> Result<usize, Unreadable> {
        let count = usize::try_from(self.number()?).map_err(|_| short())?;
        if count > self.0.len() {
            return Err(short());
        }
        Ok(count)
    }

    /// A place in a table of `len`.
    pub fn place(&mut self, len: usize) -> Result<usize, Unreadable> {
        usize::try_from(self.number()?)
            .ok()
            .filter(|&place| place < len)
            .ok_or_else(|| Unreadable("it points beyond a table".to_owned()))
    }

    /// Eight bytes as they are.
    pub fn word(&mut self) -> Result<u64, Unreadable> {
        let bytes = self.take(8)?.try_into().map_err(|_| short())?;
        Ok(u64::from_le_bytes(bytes))
    }

    /// A text.
    pub fn text(&mut self) -> Result<&'b str, Unreadable> {
        let count = self.count()?;
        std::str::from_utf8(self.take(count)?)
            .map_err(|_| Unreadable("a text in it is not UTF-8".to_owned()))
    }

    /// A text, after the one before.
    pub fn text_after(&mut self, before: &str) -> Result<String, Unreadable> {
        let same = self.number()?;
        let same = usize::try_from(same)
            .ok()
            .and_then(|same| before.get(..same))
            .ok_or_else(|| Unreadable("a path in it is broken".to_owned()))?;
        Ok(format!("{same}{}", self.text()?))
    }

    /// A hash.
    pub fn hash(&mut self) -> Result<Hash, Unreadable> {
        let bytes: [u8; 32] = self.take(32)?.try_into().map_err(|_| short())?;
        Ok(Hash::from_bytes(bytes))
    }

    /// A sum.
    pub fn sum(&mut self) -> Result<Sum, Unreadable> {
        let bytes = self.take(32)?.try_into().map_err(|_| short())?;
        Ok(Sum(bytes))
    }

    /// Whether all was read.
    pub fn end(&self) -> Result<(), Unreadable> {
        if self.0.is_empty() {
            Ok(())
        } else {
            Err(Unreadable("something follows its end".to_owned()))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn sample() -> Vec<u8> {
        let mut writer = Writer::new("sample 1");
        writer.number(u64::MAX);
        writer.text("é");
        writer.text_after("aé", "aè/b");
        writer.word(7);
        writer.hash(&blake3::hash(b"x"));
        writer.seal()
    }

    #[test]
    fn what_was_written_is_read() {
        let bytes = sample();
        let mut reader = open(&bytes, "sample 1").unwrap();
        assert_eq!(reader.number(), Ok(u64::MAX));
        assert_eq!(reader.text(), Ok("é"));
        assert_eq!(reader.text_after("aé").unwrap(), "aè/b");
        assert_eq!(reader.word(), Ok(7));
        assert_eq!(reader.hash(), Ok(blake3::hash(b"x")));
        assert_eq!(reader.end(), Ok(()));
        assert!(reader.number().is_err());
    }

    #[test]
    fn another_version_is_told_from_damage() {
        let bytes = sample();
        let error = open(&bytes, "sample 2").err().unwrap();
        assert_eq!(error.0, "it doesn't begin with `sample 2`");
    }

    #[test]
    fn any_damaged_byte_and_any_truncation_is_seen() {
        let bytes = sample();
        for at in 0..bytes.len() {
            let mut damaged = bytes.clone();
            damaged[at] ^= 0x10;
            assert!(open(&damaged, "sample 1").is_err(), "byte {at}");
            assert!(open(&bytes[..at], "sample 1").is_err(), "cut at {at}");
        }
    }

    proptest! {
        #[test]
        fn prop_numbers_round_trip(numbers in proptest::collection::vec(any::<u64>(), 0..20)) {
            let mut writer = Writer::new("n");
            for number in &numbers {
                writer.number(*number);
            }
            let bytes = writer.seal();
            let mut reader = open(&bytes, "n").unwrap();
            for number in numbers {
                prop_assert_eq!(reader.number(), Ok(number));
            }
            prop_assert!(reader.end().is_ok());
        }

        #[test]
        fn prop_no_bytes_make_a_reader_fail_otherwise_than_with_a_reason(
            bytes in proptest::collection::vec(any::<u8>(), 0..200)
        ) {
            let mut reader = Reader(&bytes);
            while reader.text_after("abc").is_ok() && reader.end().is_err() {}
        }
    }
}
