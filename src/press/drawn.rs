//! Intervals that were drawn, kept from run to run in `out/.solefolio/drawn`.
//!
//! Findings are worked out in every run that isn't idle; what is dear about them are
//! their random draws. Each drawn interval is kept by the hash of what it was drawn
//! from ([`crate::measure::drawn`]), and only for the build of the program that drew
//! it. A file that is missing, damaged or of another build costs the draws and changes
//! nothing. What a run didn't ask for is dropped.

use super::codec::{self, Reader, Unreadable, Writer};
use super::commit::HIDDEN;
use super::folder::{Folder, Trouble};
use crate::measure::drawn::{Drawn, DrawnFrom, Remembered};
use std::path::Path;

const TITLE: &str = "solefolio drawn 1";
const NAME: &str = "drawn";

/// What an earlier run of this build drew; nothing if there was none.
pub fn remembered(out: &Path, program: &str) -> Drawn {
    let hidden = || Folder::open(out).ok()?.folder(HIDDEN).ok();
    let bytes = hidden().and_then(|hidden| hidden.read(NAME).ok().flatten());
    let intervals = bytes.and_then(|bytes| read(&bytes, program).ok());
    Drawn::remembering(intervals.unwrap_or_default())
}

/// Keeps what was asked for in this run; writes nothing where that is there already.
///
/// # Errors
/// If it can't be written, which only costs the next run its draws.
pub fn remember(out: &Path, program: &str, drawn: &Drawn) -> Result<(), Trouble> {
    let bytes = write(&drawn.asked(), program);
    let hidden = Folder::open(out)?.folder(HIDDEN)?;
    if hidden.read(NAME)?.is_some_and(|there| there == bytes) {
        return Ok(());
    }
    hidden.write_over(NAME, &bytes)
}

fn write(intervals: &[Remembered], program: &str) -> Vec<u8> {
    let mut file = Writer::new(TITLE);
    file.text(program);
    file.count(intervals.len());
    for one in intervals {
        file.word(one.from.0 as u64);
        file.word((one.from.0 >> 64) as u64);
        file.word(one.ends.0.to_bits());
        file.word(one.ends.1.to_bits());
    }
    file.seal()
}

fn read(bytes: &[u8], program: &str) -> Result<Vec<Remembered>, Unreadable> {
    let mut file = codec::open(bytes, TITLE)?;
    if file.text()? != program {
        return Err(Unreadable("another build wrote it".to_owned()));
    }
    let count = file.count()?;
    let mut intervals = Vec::with_capacity(count);
    for _ in 0..count {
        let from = u128::from(file.word()?) | u128::from(file.word()?) << 64;
        intervals.push(Remembered {
            from: DrawnFrom(from),
            ends: (number(&mut file)?, number(&mut file)?),
        });
    }
    file.end()?;
    Ok(intervals)
}

fn number(file: &mut Reader<'_>) -> Result<f64, Unreadable> {
    let number = f64::from_bits(file.word()?);
    if number.is_finite() {
        Ok(number)
    } else {
        Err(Unreadable("an end is no number".to_owned()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::drawn::Function;
    use crate::quantity::{Part, Shape, Source, Uncertain};
    use std::convert::Infallible;

    const PLAIN: Function<'static> = Function {
        kind: "sum",
        text: "",
        numbers: &[],
    };

    fn ask(drawn: &Drawn, value: f64, f: impl Fn(f64) -> f64) -> (f64, f64) {
        let part = Part {
            source: Source::new("trials"),
            u: 0.5,
            dof: 4.0,
            shape: Shape::Student,
        };
        let x = Uncertain::new(value, [part]);
        let f = |x: &[f64]| Ok::<_, Infallible>(f(x[0]));
        let Ok(ends) = drawn.interval(&[&x], 0.95, PLAIN, f);
        ends
    }

    #[test]
    fn the_next_run_of_the_same_build_draws_nothing_that_was_drawn() {
        let folder = tempfile::tempdir().unwrap();
        let out = folder.path().join("out");
        let first = remembered(&out, "build 1");
        let ends = ask(&first, 3.0, |x| x);
        ask(&first, 4.0, |x| x);
        assert!(
            remember(&out, "build 1", &first).is_err(),
            "there is no folio"
        );
        let hidden = Folder::make(&out).unwrap().folder_made(HIDDEN).unwrap();
        remember(&out, "build 1", &first).unwrap();
        let file = hidden.read(NAME).unwrap().unwrap();

        let next = remembered(&out, "build 1");
        assert_eq!(ask(&next, 3.0, |_| panic!("it was drawn before")), ends);
        remember(&out, "build 1", &next).unwrap();
        let fewer = hidden.read(NAME).unwrap().unwrap();
        assert!(fewer.len() < file.len(), "what nobody asked for is dropped");

        let other = remembered(&out, "build 2");
        assert_ne!(ask(&other, 3.0, |x| 2.0 * x), ends);
        remember(&out, "build 2", &other).unwrap();
        assert_ne!(hidden.read(NAME).unwrap().unwrap(), fewer);
    }

    #[test]
    fn a_file_with_any_byte_changed_or_missing_is_as_none() {
        let drawn = Drawn::default();
        ask(&drawn, 3.0, |x| x);
        let bytes = write(&drawn.asked(), "build 1");
        assert_eq!(read(&bytes, "build 1"), Ok(drawn.asked()));
        for at in 0..bytes.len() {
            let mut changed = bytes.clone();
            changed[at] ^= 1;
            assert!(read(&changed, "build 1").is_err(), "byte {at}");
            assert!(read(&bytes[..at], "build 1").is_err(), "cut at {at}");
        }
        assert!(read(&bytes, "build 2").is_err());
        let endless = [Remembered {
            from: DrawnFrom(1),
            ends: (0.0, f64::NAN),
        }];
        assert!(read(&write(&endless, "build 1"), "build 1").is_err());
    }
}
