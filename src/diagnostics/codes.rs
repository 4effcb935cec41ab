//! Every problem's code: what it means, why it matters, how it is mended.
//!
//! A code is a promise: scripts and people's notes refer to it, so it keeps its
//! name and meaning. Its page in the docs is made from this table.

/// What a code stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Code {
    /// Its name, in small letters with hyphens.
    pub name: &'static str,
    /// What is wrong.
    pub what: &'static str,
    /// Why it stops, or is worth a warning.
    pub why: &'static str,
    /// A piece of a file that has it.
    pub example: &'static str,
    /// What to do.
    pub fix: &'static str,
}

const fn code(
    name: &'static str,
    what: &'static str,
    why: &'static str,
    example: &'static str,
    fix: &'static str,
) -> Code {
    Code {
        name,
        what,
        why,
        example,
        fix,
    }
}

/// All codes, by room, then by name.
#[rustfmt::skip] // one entry reads better as five lines of its own
pub const CODES: &[Code] = &[
    // Files: whether they can be read.
    code("control-character",
        "The file holds a control character, a line separator of Unicode or a byte order mark within its text.",
        "It can't be seen, readers disagree about it, and some act on the terminal.",
        "maker: Fennick\\u0007 & Vale",
        "Take it out. In double quotes it can be written as an escape."),
    code("file-too-large",
        "The file is over its size limit: 1 MiB for YAML, 8 MiB for CSV.",
        "A limit keeps one stray file from filling the memory.",
        "shoes/quarrel-2.yaml of 3 MiB",
        "Take out what is not needed; raw curves belong in CSV files beside the shoe."),
    code("linked-folder",
        "A folder is a link to another folder.",
        "Links to folders are not followed, so what lies there would be left out without a word.",
        "shoes/2026 -> ../archive/2026",
        "Put the folder itself here."),
    code("more-problems",
        "The file has more problems than are listed.",
        "A hundred are listed; a file with more is mostly broken in one way that repeats.",
        "4 more problems in this file",
        "Mend those above first, and look again."),
    code("not-utf-8",
        "The file is not written in UTF-8.",
        "Its letters would have to be guessed.",
        "größe in Latin-1",
        "Save the file as UTF-8."),
    code("outside-root",
        "A link leads out of the lab's folder.",
        "Nothing outside the lab's folder is read: it could publish what was never meant to be.",
        "shoes/x.yaml -> /etc/passwd",
        "Put the file itself into the folder."),
    code("same-address",
        "Two files in different folders would have the same address.",
        "A file's name without its ending is the shoe's address, whatever folder it lies in.",
        "shoes/quarrel-2.yaml and shoes/2026/quarrel-2.yaml",
        "Rename one of the two."),
    code("unreadable-file",
        "The file is not there or can't be read.",
        "What it holds is needed.",
        "lab/protocol.yaml is missing",
        "Put it there, or allow reading it."),
    code("unsafe-name",
        "A file's name is no address: small letters a to z, digits and single hyphens.",
        "The name becomes part of a web address and of file names on every system, for ever.",
        "shoes/Quarrel 2.yaml",
        "Rename it, for example to quarrel-2.yaml."),
    // YAML: whether it can be parsed.
    code("alias-refused",
        "The file uses an anchor (&name), an alias (*name) or a merge key (<<).",
        "A few lines of aliases can stand for millions of values, and a reader of the file can't see what a line says.",
        "mass: *usual",
        "Write the value out. A text that begins with & or * goes in quotes."),
    code("duplicate-key",
        "A map has the same key twice.",
        "One of the two values would be lost without a word.",
        "mass: [262]\nmass: [263]",
        "Keep one of the two."),
    code("empty-file",
        "The file holds nothing but white space and comments.",
        "It was probably cut short.",
        "# quarrel-2.yaml",
        "Write it, or remove it."),
    code("not-finite",
        "A number is infinite or no number at all.",
        "A reading has a finite value; one that is missing is left out.",
        "mass: .nan",
        "Leave the value out if there is none."),
    code("second-document",
        "The file holds a second YAML document.",
        "A file is one thing; the second document would not be read.",
        "maker: A\n---\nmaker: B",
        "Take out the line ---, or make two files."),
    code("tag-refused",
        "The file uses a tag (!name).",
        "Tags can change what a value is, unseen.",
        "mass: !!str 262",
        "Take it out; put a text in quotes."),
    code("too-deep",
        "Maps and lists lie more than 64 deep in each other.",
        "No file of a lab needs that; mostly a bracket is missing.",
        "[[[[[[…",
        "Close the brackets."),
    code("yaml-syntax",
        "The file is not YAML.",
        "Nothing after this place can be trusted.",
        "mass: [262, 263",
        "Mend the line that is named, or the one above it: brackets, quotes and indentation first."),
    // YAML: whether it says what it should.
    code("empty-value",
        "A key has no value.",
        "A missing value is missing: it is neither an empty text nor 0.",
        "model:",
        "Write the value, or take the key out if it may be absent."),
    code("missing-key",
        "A key that must be there is not.",
        "Without it the file can't be understood.",
        "size: {system: mondopoint}",
        "Add it, or look for a mistyped key beside it."),
    code("not-one-of",
        "A word is not among those that are known here.",
        "Each stands for something different, so a mistyped one can't be guessed.",
        "side: lft",
        "Use one of the known words; the nearest is named."),
    code("out-of-range",
        "A number is under or over what is possible here.",
        "It can't be what was meant.",
        "coverage: 195 %",
        "Look for a slipped digit or decimal point."),
    code("refused-value",
        "A value has the right kind, but breaks a rule of its own.",
        "It can't be used as it is; the message says why.",
        "points: [[15, 20], [0, 0]]",
        "Do what the message asks for."),
    code("unknown-key",
        "A key is not known here.",
        "It would have no effect, and a mistyped key would go unnoticed.",
        "midfoot-torqe: [4.3]",
        "Use the known key that is named, or move the line to the map it belongs to."),
    code("wrong-form",
        "A text has not the form it must have: a date, a month, an amount, a name, an address, a path.",
        "It can't be read as what it should be.",
        "on: 2026-02-30",
        "Write it in the form that is named."),
    code("wrong-length",
        "A text or list is shorter or longer than it may be.",
        "Something is missing, or too much.",
        "plausible: [90 g]",
        "Write as many as the message says."),
    code("wrong-type",
        "A value is of another kind than expected: text for a number, one value for a list.",
        "It would have to be guessed what was meant.",
        "mass: 262 grams or so",
        "Write what is expected; the hint names the usual slip."),
    // CSV.
    code("csv-decimals",
        "A number's decimal sign is not that of the rest of the file.",
        "A comma may be a decimal sign, a thousands separator or the end of a field: guessing wrong is a factor of 1000.",
        "10.5;0,25",
        "Write all numbers with the same decimal sign and no thousands separators."),
    code("csv-empty",
        "The table has no header or no row.",
        "There is nothing to read.",
        "load (N),travel (mm)",
        "Export it again."),
    code("csv-fields",
        "A row has more or fewer fields than the header.",
        "Its numbers can't be told apart.",
        "load (N),travel (mm)\n10,0,25",
        "Give every row as many fields as the header; with commas between fields, write decimal points."),
    code("csv-heading",
        "A column has no name, or the same as another.",
        "Columns are found by name.",
        "load (N),load (N)",
        "Name each column once."),
    code("csv-missing",
        "A number is missing.",
        "A gap is never filled with 0.",
        "10,",
        "Take the row out if it was not measured."),
    code("csv-number",
        "A cell is no finite number.",
        "Only numbers can be worked with.",
        "10,n/a",
        "Write the number alone; its unit stands in the header."),
    code("csv-quote",
        "A quote is not closed, or text follows it.",
        "Where the field ends can't be told.",
        "\"10,0.25",
        "Close the quote; a quote within quotes is doubled."),
    code("csv-too-many",
        "The table has more than 200,000 rows or 64 columns.",
        "A limit keeps one stray file from filling the memory.",
        "a curve sampled at 1 MHz",
        "Thin it out; a few thousand points describe a curve."),
    code("csv-unit",
        "A header's unit is not known.",
        "Without its unit a number means nothing.",
        "load (kp)",
        "Use a known unit; the nearest is named."),
    code("control-column",
        "A column of the control shoe's log or of a gauge study is missing, or is no quantity of the protocol, or its unit does not convert.",
        "A chart or a study of something the protocol doesn't measure can't be laid beside a review.",
        "date,heel-compresion (mm)",
        "Head the columns date (or part, operator, trial) and then one a quantity, with its unit."),
    code("control-date",
        "A row of the control shoe's log has no date, or stands below a later one.",
        "Runs and trends are looked for in the order of the days.",
        "2026-11-02 below 2026-11-03",
        "Write dates as 2026-11-18, and keep the rows in their order."),
    code("ledger-torn",
        "The last line of the ledger was not written to its end.",
        "Writing or copying the file was interrupted; what the line was to record is not known.",
        "{\"on\":\"2026-11-02\",\"shoe\":\"quar",
        "Bring the file back from version control, or take the torn line away and seal again."),

    // Bench: readings that come in.
    code("edit-refused",
        "The file is written in a way that can't be edited without disturbing it.",
        "Only the readings may change; comments and order are the author's.",
        "mass: &m [262, 263]",
        "Put the readings in by hand, or write the place plainly."),
    code("changed-meanwhile",
        "The file was changed by somebody else between reading and writing.",
        "Writing would undo that change.",
        "solefolio record quarrel-2 mass 262",
        "Look at the file and do it again; it is then read as it is."),
    code("intake-columns",
        "A spreadsheet's header does not say where the readings are.",
        "Guessing at columns would put readings under wrong names.",
        "model,weight",
        "Head the columns `shoe, specimen, quantity, value, unit`, or `shoe, specimen` and a column a quantity."),
    code("intake-row",
        "A row of a spreadsheet can't be taken.",
        "What it says is not known, not plausible, or contradicts the file.",
        "quarrel-2,Q2-L,mass,26200,",
        "Mend the row and take the sheet in again; rows already taken change nothing."),
];

/// The code of a name.
pub fn find(name: &str) -> Option<&'static Code> {
    CODES.iter().find(|code| code.name == name)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn every_name_is_there_once_and_kebab_case() {
        let mut seen = BTreeSet::new();
        for code in CODES {
            assert!(seen.insert(code.name), "{} is there twice", code.name);
            assert!(
                code.name.parse::<crate::files::Key>().is_ok(),
                "{}",
                code.name
            );
            assert_eq!(find(code.name), Some(code));
        }
        assert_eq!(find("no-such-code"), None);
    }

    #[test]
    fn every_entry_says_something_in_sentences() {
        for code in CODES {
            for text in [code.what, code.why, code.fix] {
                assert!(
                    text.ends_with('.') && text.len() > 10,
                    "{}: {text}",
                    code.name
                );
            }
            assert!(!code.example.is_empty(), "{}", code.name);
        }
    }
}
