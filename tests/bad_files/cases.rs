//! The table of mistakes in the small lab's files.

use Edit::{CopyOf, Deep, Fill, Keep, LinkTo, Long, Remove, Replace, Write};

pub const LAB: &str = "lab/lab.yaml";
pub const PROTOCOL: &str = "lab/protocol.yaml";
pub const INSTRUMENTS: &str = "lab/instruments.yaml";
pub const RULES: &str = "lab/rules.yaml";
pub const PHRASES: &str = "lab/phrases.yaml";
pub const KESTREL: &str = "shoes/kestrel.yaml";
pub const CURVE: &str = "shoes/curves/kestrel.csv";

/// What is done to a file.
#[derive(Clone, Copy, Debug)]
pub enum Edit {
    /// The first of one text is replaced by another.
    Replace(&'static str, &'static str),
    /// A text is replaced by so many brackets around nothing.
    Deep(&'static str, usize),
    /// A text is replaced by so many letters.
    Long(&'static str, usize),
    /// The whole file is other bytes.
    Write(&'static [u8]),
    /// The whole file is a text, and another many times.
    Fill(&'static str, &'static str, usize),
    /// Only so many lines stay.
    Keep(usize),
    /// It is another file of the lab.
    CopyOf(&'static str),
    /// It is a link.
    LinkTo(&'static str),
    /// It is gone.
    Remove,
}

/// A file, what is done to it, and what is then found: code, `file:line:column`
/// (or the file alone), key path, a piece of the message, a piece of the hint.
pub type Case = (
    &'static str,
    Edit,
    &'static str,
    &'static str,
    &'static str,
    &'static str,
    &'static str,
);

#[rustfmt::skip] // a case reads better on one line
pub const CASES: &[Case] = &[
    (LAB, Replace("contact:", "contcat:"), "unknown-key", "lab/lab.yaml:7:1", "contcat", "the key `contcat` is not known here", "did you mean `contact`? known here: `schema`, `name`,"),
    (PROTOCOL, Replace("minimum-shoes: 3", "minimum-sheos: 3"), "unknown-key", "lab/protocol.yaml:13:1", "minimum-sheos", "the key `minimum-sheos` is not known here", "did you mean `minimum-shoes`? known here: `schema`, `version`,"),
    (INSTRUMENTS, Replace("resolution: 1 g", "resolutoin: 1 g"), "unknown-key", "lab/instruments.yaml:6:5", "instruments.scale.resolutoin", "the key `resolutoin` is not known here", "did you mean `resolution`? known here: `label`, `resolution`,"),
    (RULES, Replace("borderline-below", "borderline-bellow"), "unknown-key", "lab/rules.yaml:5:1", "borderline-bellow", "the key `borderline-bellow` is not known here", "did you mean `borderline-below`? known here: `schema`,"),
    (RULES, Replace("cuts: [50]", "cutz: [50]"), "unknown-key", "lab/rules.yaml:24:5", "rules.pace.cutz", "the key `cutz` is not known here", "did you mean `cuts`? known here: `kind`, `label`, `of`, `cuts`,"),
    (PHRASES, Replace("cautions:", "cautoins:"), "unknown-key", "lab/phrases.yaml:30:1", "cautoins", "the key `cautoins` is not known here", "did you mean `cautions`? known here: `schema`, `findings`,"),
    (KESTREL, Replace("soaked: 14 h", "soakd: 14 h"), "unknown-key", "shoes/kestrel.yaml:13:84", "specimens[0].session.soakd", "the key `soakd` is not known here", "did you mean `soaked`? known here: `on`, `operator`,"),
    (KESTREL, Replace("model: Kestrel\n", ""), "missing-key", "shoes/kestrel.yaml:2:1", "", "the key `model` is missing", "add `model: …` (text)"),
    (PROTOCOL, Replace("    label: Mass\n", ""), "missing-key", "lab/protocol.yaml:15:3", "quantities.mass", "the key `label` is missing", "add `label: …` (text)"),
    (PROTOCOL, Replace("decimals: 0", "decimals: two"), "wrong-type", "lab/protocol.yaml:20:15", "quantities.mass.decimals", "the text `two` where a whole number is expected", ""),
    (KESTREL, Replace("specimens:", "specimens: none\nnotes:"), "wrong-type", "shoes/kestrel.yaml:9:12", "specimens", "the text `none` where a list is expected", "put it in brackets, even if it is one: `[none]`"),
    (KESTREL, Replace("mass: [262, 263, 262]", "<<: {mass: [262]}"), "alias-refused", "shoes/kestrel.yaml:15:7", "specimens[0].readings.<<", "a merge key (`<<`) is not read here", "write the values out"),
    (KESTREL, Replace("mass: [262, 263, 262]", "mass: *usual"), "alias-refused", "shoes/kestrel.yaml:15:13", "specimens[0].readings.mass", "an alias (`*name`) is not read here", "write the value out; put it in quotes if it is text"),
    (KESTREL, Replace("Orme", "!!str Orme"), "tag-refused", "shoes/kestrel.yaml:3:8", "maker", "a tag (`!!str`) is not read here", "take it out; put the value in quotes if it is text"),
    (PROTOCOL, Replace("value: 270", "value: .nan"), "not-finite", "lab/protocol.yaml:12:45", "reference-size.value", "`.nan` is no number a reading can have", "leave the value out if there is none; put it in quotes if it is"),
    (INSTRUMENTS, Replace("k: 2", "k: -.inf"), "not-finite", "lab/instruments.yaml:7:75", "instruments.scale.calibration.k", "`-.inf` is no number a reading can have", "leave the value out if there is none; put it in quotes if it is"),
    (KESTREL, Replace("    side: left", "\tside: left"), "yaml-syntax", "shoes/kestrel.yaml:10:9", "", "a tab stands where the indentation must be spaces", "replace the tab by spaces"),
    (KESTREL, Replace("summary: An", "---\nsummary: An"), "second-document", "shoes/kestrel.yaml:18:1", "", "a second document begins here; a file holds one", "take out the `---`, or move what follows into a file of its own"),
    (KESTREL, Replace("[6.12, 6.05, 6.17]\n      heel-load-curve: {curve: curves/kestrel.csv}\nsummary: An invented shoe.\n", "[6.12, 6.0"), "yaml-syntax", "shoes/kestrel.yaml:16:35", "", "a `,` or `]` is missing in the list that begins at line 16,", "close it with `]`; put texts that hold brackets, commas or `: `"),
    (KESTREL, Deep("An invented shoe.", 70), "too-deep", "shoes/kestrel.yaml:18:73", "", "maps and lists lie more than 64 deep in each other", "no file of a lab needs to be that deep; is a bracket missing?"),
    (KESTREL, Replace("An invented", "An \x07invented"), "control-character", "shoes/kestrel.yaml:18:13", "", "the character U+0007 does not belong in a text", "take it out; it can't be seen, and acts on what stands around it"),
    (KESTREL, Replace("Kestrel", ""), "empty-value", "shoes/kestrel.yaml:4:1", "model", "no value where text is expected", "write the value, or take the key out if there is none"),
    (KESTREL, Replace("2026-11-20", "2026-02-30"), "wrong-form", "shoes/kestrel.yaml:8:10", "publish", "`2026-02-30` is no day: February 2026 has 28 days", "write a date such as 2026-11-18"),
    (KESTREL, Replace("2026-11-20", "20.11.2026"), "wrong-form", "shoes/kestrel.yaml:8:10", "publish", "`20.11.2026` is no date such as 2026-11-18 (year-month-day)", "write a date such as 2026-11-18"),
    (KESTREL, Replace("2026-03", "March 2026"), "wrong-form", "shoes/kestrel.yaml:7:11", "released", "`March 2026` is no month such as 2026-03 (year-month)", "write a month such as 2026-03"),
    (KESTREL, Replace("mass: [262, 263, 262]", "mass: [262 mm, 263, 262]"), "wrong-unit", "shoes/kestrel.yaml:15:14", "specimens[0].readings.mass[0]", "`262 mm` is not in g nor in a unit that converts into it", "give it in g, or write the unit it was read in"),
    (KESTREL, Replace("mass: [262, 263, 262]", "mass: [262 grm, 263, 262]"), "wrong-form", "shoes/kestrel.yaml:15:14", "specimens[0].readings.mass[0]", "`grm` is no unit known here", "known are mm, cm, in, g, kg, oz, lb, N, kN, lbf, N·m, in·lbf,"),
    (KESTREL, Replace("mass: [262, 263, 262]", "mass: [\"262,5\", 263, 262]"), "wrong-form", "shoes/kestrel.yaml:15:14", "specimens[0].readings.mass[0]", "`262,5` has a comma; write a decimal point", "write `262.5`"),
    (KESTREL, Replace("[6.12, 6.05, 6.17]", "6,12"), "wrong-form", "shoes/kestrel.yaml:16:25", "specimens[0].readings.heel-compression", "`6,12` has a comma; write a decimal point", "write `6.12`"),
    (INSTRUMENTS, Replace("0.6 g", "0.6"), "unit-missing", "lab/instruments.yaml:7:65", "instruments.scale.calibration.uncertainty", "`0.6` has no unit", "write the unit behind the number, such as `0.05 N·m`"),
    (KESTREL, Replace("mass: [262, 263, 262]", "mass: [2620, 263, 262]"), "implausible", "shoes/kestrel.yaml:15:14", "specimens[0].readings.mass[0]", "`2620` is outside the plausible 90 to 600 g of mass", "check the reading and its unit, measure again, or leave it out"),
    (KESTREL, Replace("mass: [262, 263, 262]", "mass: [262 oz, 263, 262]"), "implausible", "shoes/kestrel.yaml:15:14", "specimens[0].readings.mass[0]", "`262 oz` is 7427.6 g: outside the plausible 90 to 600 g of mass", "check the reading and its unit, measure again, or leave it out"),
    (KESTREL, Replace("mass: [262, 263, 262]", "masss: [262]"), "unknown-name", "shoes/kestrel.yaml:15:7", "specimens[0].readings.masss", "the protocol has no quantity `masss`; it has mass,", "did you mean `mass`?"),
    (KESTREL, Replace("category: road", "category: roed"), "unknown-name", "shoes/kestrel.yaml:5:11", "category", "there is no category `roed`; the lab has road, trail", "did you mean `road`?"),
    (KESTREL, Replace("operator: ada", "operator: adda"), "unknown-name", "shoes/kestrel.yaml:13:41", "specimens[0].session.operator", "there is no operator `adda` in lab/lab.yaml", "did you mean `ada`?"),
    (PROTOCOL, Replace("instrument: scale", "instrument: scael"), "unknown-name", "lab/protocol.yaml:21:17", "quantities.mass.instrument", "there is no instrument `scael` in lab/instruments.yaml", "did you mean `scale`?"),
    (PROTOCOL, Replace("curve: heel-load-curve", "curve: heel-laod-curve"), "unknown-name", "lab/protocol.yaml:48:19", "quantities.energy-return.from.curve", "there is no curve `heel-laod-curve` in this protocol", "did you mean `heel-load-curve`?"),
    (PROTOCOL, Replace("take: energy-return", "take: energy-returned"), "not-one-of", "lab/protocol.yaml:48:42", "quantities.energy-return.from.take", "`energy-returned` is not known here", "did you mean `energy-return`? known here: `travel`, `load`,"),
    (RULES, Replace("cuts: [50]", "cuts: [50, 40]"), "cuts-not-rising", "lab/rules.yaml:24:16", "rules.pace.cuts[1]", "40 comes after 50; cuts must rise", "sort the cuts, lowest first, and write each once"),
    (RULES, Replace("lightness: 0.5}", "lightnes: 0.5}"), "unknown-name", "lab/rules.yaml:23:35", "rules.pace.of.lightnes", "`lightnes` is neither a quantity nor a finding", "did you mean `lightness`?"),
    (RULES, Replace("lightness: 0.5}", "lightness: 0.4}"), "weights-do-not-add-up", "lab/rules.yaml:23:9", "rules.pace.of", "the weights add up to 0.9, and must add up to 1", "divide each weight by their sum"),
    (RULES, Replace("of: {firmness: 0.5, lightness: 0.5}", "of: {pace: 0.5, lightness: 0.5}"), "circle-of-rules", "lab/rules.yaml:20:3", "rules.pace", "rules rest on each other in a circle: pace → pace", "let one of them rest on quantities alone"),
    (RULES, Replace("is: \"heel_compression / 2.0\"", "is: \"twice / 2.0\"\n  twice: {kind: formula, label: Twice, unit: mm, decimals: 1, is: \"give * 2.0\"}"), "circle-of-rules", "lab/rules.yaml:26:3", "rules.give", "rules rest on each other in a circle: give → twice → give", "let one of them rest on quantities alone"),
    (RULES, Replace("kind: blend", "kind: bland"), "not-one-of", "lab/rules.yaml:21:11", "rules.pace.kind", "`bland` is not known here", "did you mean `blend`? known here: `scale`, `blend`, `formula`,"),
    (RULES, Replace("[9, 20], [7, 40]", "[7, 20], [9, 40]"), "points-not-in-order", "lab/rules.yaml:13:32", "rules.firmness.points[2]", "the value 9 comes after 7; values must only rise or only fall", "sort the points by value, and write each value once"),
    (RULES, Replace("unit: oz", "unit: mm"), "wrong-unit", "lab/rules.yaml:18:11", "rules.lightness.unit", "`mass` is measured in g, which does not convert into mm", "write a unit that measures the same as g"),
    (PHRASES, Replace("    medium: {short: gives moderately, means: \"The heel sinks {value}.\"}\n", ""), "phrase-missing", "lab/phrases.yaml:4:3", "findings.firmness", "there are no words for `firmness` when it is medium", "add `medium: {short: …, means: …}`"),
    (PHRASES, Replace("hard-heel:", "hard-hele:"), "phrase-missing", "lab/phrases.yaml:21:1", "advice", "the advice `hard` says `hard-heel`, and there are no such words", "did you mean `hard-hele`?"),
    (PHRASES, Replace("gives a great deal", "gives 9 mm"), "typed-number", "lab/phrases.yaml:5:23", "findings.firmness.very low.short", "a number is typed into the words, and would be the same for", "use a placeholder such as `{value}`"),
    (PHRASES, Replace("gives little", "very high"), "other-band", "lab/phrases.yaml:8:19", "findings.firmness.high.short", "the words for `high` name the band `very high`", "say it in other words, or use `{band}`"),
    (PHRASES, Replace("means: \"The heel sinks {value}.\"", "means: \"The heel sinks {vlaue}.\""), "unknown-placeholder", "lab/phrases.yaml:5:50", "findings.firmness.very low.means", "`{vlaue}` stands for nothing; there are {shoe}, {value},", "did you mean `{value}`?"),
    (PHRASES, Replace("means: \"The heel sinks {value}.\"", "means: \"The heel sinks {value.\""), "unknown-placeholder", "lab/phrases.yaml:5:50", "findings.firmness.very low.means", "a brace stands alone; a placeholder has one on either side", "write it as `{value}`"),
    (PHRASES, Replace("    easy:", "    easey:"), "phrase-missing", "lab/phrases.yaml:16:3", "findings.pace", "there are no words for `pace` when it is easy", "add `easy: {short: …, means: …}`"),
    (RULES, Replace("firmness >= 80.0", "firmness >="), "expression-syntax", "lab/rules.yaml:35:11", "rules.hard.when", "the expression can't be read at its character 13: it ends too", "write it as `torsion >= 60.0 && lift < 20.0`; names take"),
    (RULES, Replace("firmness >= 80.0", "firmness >= 80"), "expression-whole-number", "lab/rules.yaml:35:11", "rules.hard.when", "`80` at character 13 is a whole number, which the expression", "write 80.0"),
    (RULES, Replace("firmness >= 80.0", "firmnes >= 80.0"), "unknown-name", "lab/rules.yaml:35:11", "rules.hard.when", "`firmnes` at character 1 is neither a quantity nor a finding", "did you mean `firmness`?"),
    (RULES, Replace("heel_compression / 2.0", "heel-compression / 2.0"), "unknown-name", "lab/rules.yaml:31:9", "rules.give.is", "`compression` at character 6 is neither a quantity nor a finding", "write `heel_compression`: in an expression a hyphen is a minus"),
    (RULES, Replace("firmness >= 80.0", "size(firmness) > 2.0"), "expression-unsupported", "lab/rules.yaml:35:11", "rules.hard.when", "`size` at character 5 is not part of a rule's expression", "use + - * /, comparisons, && || !, `a ? b : c`, math.least,"),
    (RULES, Replace("firmness >= 80.0", "firmness + 80.0"), "expression-type", "lab/rules.yaml:35:11", "rules.hard.when", "the expression comes to a number, and true or false is expected", "compare it with something, as in `torsion >= 60.0`"),
    (RULES, Replace("firmness >= 80.0", "2.0 >= 1.0"), "expression-constant", "lab/rules.yaml:35:11", "rules.hard.when", "the expression names no quantity and no finding, so it is the", "name a quantity or a finding, with underscores for hyphens"),
    (KESTREL, Replace("summary:", "leave-out: [{specimen: K-L, quantity: mass, trial: 4, reason: the scale was bumped}]\nsummary:"), "out-of-range", "shoes/kestrel.yaml:18:52", "leave-out[0].trial", "`mass` has 3 readings; there is no trial 4", "write a trial from 1 to 3"),
    (KESTREL, Replace("summary:", "leave-out: [{specimen: K-R, quantity: mass, trial: 1, reason: the scale was bumped}]\nsummary:"), "unknown-name", "shoes/kestrel.yaml:18:24", "leave-out[0].specimen", "there is no specimen `K-R`", "did you mean `K-L`?"),
    (KESTREL, Replace("summary:", "leave-out: [{specimen: K-L, quantity: mass, trial: 1, reason: why}]\nsummary:"), "wrong-length", "shoes/kestrel.yaml:18:63", "leave-out[0].reason", "a reason of 3 characters; 8 at least are expected", "say why in a few words: the page shows it"),
    (KESTREL, Replace("summary:", "accept: [{flag: calibration-overdu, reason: it was new}]\nsummary:"), "unknown-name", "shoes/kestrel.yaml:18:17", "accept[0].flag", "there is no flag `calibration-overdu`; there are spread,", "did you mean `calibration-overdue`?"),
    (KESTREL, Replace("summary:", "accept: [{flag: spread, of: mas, reason: it was new}]\nsummary:"), "unknown-name", "shoes/kestrel.yaml:18:29", "accept[0].of", "the protocol has no quantity `mas`", "did you mean `mass`?"),
    (KESTREL, Replace("bought: {on: 2026-10-02", "bought: {on: 2026-11-12"), "dates-out-of-order", "shoes/kestrel.yaml:12:18", "specimens[0].bought.on", "bought on 2026-11-12, after it was measured on 2026-11-10", "check both dates"),
    (KESTREL, Replace("session: {on: 2026-11-10", "session: {on: 2026-11-22"), "dates-out-of-order", "shoes/kestrel.yaml:13:19", "specimens[0].session.on", "measured on 2026-11-22, after its review of 2026-11-20", "check both dates"),
    (KESTREL, Replace("summary:", "withdrawn: {on: 2026-11-19, reason: taken too early}\nsummary:"), "dates-out-of-order", "shoes/kestrel.yaml:18:17", "withdrawn.on", "taken back on 2026-11-19, before it was published on 2026-11-20", "a review can only be taken back after its `publish` day"),
    (KESTREL, Replace("summary:", "formerly: [plover]\nsummary:"), "same-address", "shoes/kestrel.yaml:18:12", "formerly[0]", "the address `plover` is taken by shoes/plover.yaml", "an earlier address leads to one shoe only"),
    (KESTREL, Replace("summary:", "formerly: [The Plover]\nsummary:"), "wrong-form", "shoes/kestrel.yaml:18:12", "formerly[0]", "`The Plover` is no name: use small letters a to z, digits and", "write a name of small letters, digits and hyphens"),
    (KESTREL, Replace("curves/kestrel.csv", "curves/kestel.csv"), "unreadable-file", "shoes/kestrel.yaml:17:32", "specimens[0].readings.heel-load-curve.curve", "shoes/curves/kestel.csv: the file can't be read: there is no", "check the name; it is relative to the shoe's file"),
    (KESTREL, Replace("curves/kestrel.csv", "../../../etc/passwd"), "outside-root", "shoes/kestrel.yaml:17:32", "specimens[0].readings.heel-load-curve.curve", "`../../../etc/passwd` has `..`; a path may not lead upward", "name a file beside the shoe's, such as `curves/heel.csv`"),
    (KESTREL, Replace("curves/kestrel.csv", "/etc/passwd"), "outside-root", "shoes/kestrel.yaml:17:32", "specimens[0].readings.heel-load-curve.curve", "`/etc/passwd` begins with `/`; write a path relative to this", "name a file beside the shoe's, such as `curves/heel.csv`"),
    (CURVE, Replace("load (N)", "load (mm)"), "csv-column-missing", "shoes/curves/kestrel.csv:1:1", "", "no column is in N or a unit that converts into it", "head it `load (N)`"),
    (CURVE, Replace("load (N)", "load (kp)"), "csv-unit", "shoes/curves/kestrel.csv:1:13", "", "`kp` is no unit known here", "did you mean `kg`? known are mm, cm, in, g, kg, oz, lb, N, kN,"),
    (CURVE, Replace("\n0.20,2.0\n", "\n0.20,NaN\n"), "csv-number", "shoes/curves/kestrel.csv:3:6", "", "`NaN` is no number", "write the number alone; its unit stands in the header"),
    (KESTREL, Long("An invented shoe.", 301), "text-too-long", "shoes/kestrel.yaml:18:10", "summary", "`summary` has 301 characters; 300 is the most", "shorten it"),
    (KESTREL, Replace("mass: [262, 263, 262]", "mass: [262, 271, 262]"), "spread", "shoes/kestrel.yaml:15:13", "specimens[0].readings.mass", "trials differ by 9.0 g, from 262.0 to 271.0; the protocol", "measure again, or accept it: `accept: [{flag: spread, of: mass,"),
    (INSTRUMENTS, Replace("due: 2027-03-02", "due: 2026-11-10"), "calibration-overdue", "shoes/kestrel.yaml:15:13", "specimens[0].readings.mass", "Scale was due for calibration on 2026-11-10 and was used on", "measure again, or accept it: `accept: [{flag:"),
    (KESTREL, Replace("22.8 °C", "19 °C"), "temperature", "shoes/kestrel.yaml:13:14", "specimens[0].session", "measured at 19.0 °C; the protocol wants 23.0 ± 1.5 °C", "measure again, or accept it: `accept: [{flag: temperature,"),
    (PROTOCOL, Replace("soak: 12 h", "soak: -12 h"), "out-of-range", "lab/protocol.yaml:11:9", "conditioning.soak", "the time for conditioning can't be negative, and is -12", "give a number of zero or more"),
    (PROTOCOL, Replace("label: Mass", "label: \"\""), "nothing-given", "lab/protocol.yaml:16:12", "quantities.mass.label", "the label is empty", "say what it is called on pages"),
    (KESTREL, Replace("model: Kestrel", "model: Kestrel\nversion: 99999999999"), "out-of-range", "shoes/kestrel.yaml:5:10", "version", "99999999999 is out of range: at most 4294967295 is expected", ""),
    ("lab/gauge-study.csv", Write(b"part,operator,trial,mass (g)\nA,ada,1,262\nA,ada,1,263\n"), "duplicate-entry", "lab/gauge-study.csv:3:7", "", "trial `1` of part `A` by `ada` stands in line 2 already", "take one of the two rows out"),
    (KESTREL, Replace("soaked: 14 h", "soaked: 5 h"), "soaked-short", "shoes/kestrel.yaml:13:14", "specimens[0].session", "conditioned for 5.0 h; the protocol wants at least 12.0 h", "measure again, or accept it: `accept: [{flag: soaked-short,"),
    (KESTREL, Replace("humidity: 48 %", "humidity: 71 %"), "humidity", "shoes/kestrel.yaml:13:14", "specimens[0].session", "measured at 71 % humidity; the protocol wants 50 ± 10 %", "measure again, or accept it: `accept: [{flag: humidity, reason:"),
    (KESTREL, Replace("released:", "price: {amount: 120, currency: eur}\nreleased:"), "wrong-form", "shoes/kestrel.yaml:7:32", "price.currency", "`eur` is no code of a currency: three capital letters (ISO 4217)", "write `EUR`"),
    (KESTREL, Replace("schema: 1", "schema: 2"), "not-one-of", "shoes/kestrel.yaml:2:9", "schema", "2 is not known to this version; it knows 1", "write 1"),
    (KESTREL, Replace("summary:", "words: {firmnes: soft}\nsummary:"), "unknown-name", "shoes/kestrel.yaml:18:9", "words.firmnes", "the rule set makes no finding `firmnes`", "did you mean `firmness`?"),
    (LAB, Replace("https://small-bench.example/", "small-bench.example"), "wrong-form", "lab/lab.yaml:6:10", "address", "`small-bench.example` is no address that begins with `https://`", "write the whole address, such as https://lab.example/"),
    (RULES, Replace("page: [firmness", "page: [firmnes"), "unknown-name", "lab/rules.yaml:37:8", "page[0]", "`firmnes` is no rule", "did you mean `firmness`?"),
    (RULES, Replace("names: [easy, quick]", "names: [easy]"), "band-names-count", "lab/rules.yaml:25:12", "rules.pace.names", "1 cut makes 2 bands, but there is 1 name", "write 2 names, from the lowest band"),
    (RULES, Replace("0.80", "80"), "limit-out-of-range", "lab/rules.yaml:5:19", "borderline-below", "a limit of 80 is out of range: it is a chance above 0.5 and", "write a chance such as 0.80"),
    (KESTREL, Replace("mass: [262, 263, 262]", "mass: [262, 263, 262]\n      mass: [262, 263, 262]"), "duplicate-key", "shoes/kestrel.yaml:16:7", "specimens[0].readings.mass", "the key `mass` stands twice in this map; first at line 15,", "keep one of the two"),
    (KESTREL, Replace("model: Kestrel", "model: Kestrel\nmodel: Kestrel"), "duplicate-key", "shoes/kestrel.yaml:5:1", "model", "the key `model` stands twice in this map; first at line 4,", "keep one of the two"),
    (KESTREL, Write(b""), "empty-file", "shoes/kestrel.yaml:1:1", "", "the file is empty", "bring it back as it was, or remove it"),
    (KESTREL, Write(b"maker: Gr\xf6\xdfe\n"), "not-utf-8", "shoes/kestrel.yaml:1:10", "", "the byte 0xf6 is not UTF-8", "save the file as UTF-8"),
    (KESTREL, Write(b"\xff\xfem\x00a\x00k\x00e\x00r\x00:\x00 \x00x\x00"), "not-utf-8", "shoes/kestrel.yaml:1:1", "", "the file is UTF-16, not UTF-8", "save the file as UTF-8"),
    (KESTREL, Write(b"schema: 1\nmaker: a\x00b\n"), "control-character", "shoes/kestrel.yaml:2:9", "", "the character U+0000 does not belong in a text", "take it out; it can't be seen, and acts on what stands around it"),
    (KESTREL, Fill("schema: 1\n", "# x\n", 300_000), "file-too-large", "shoes/kestrel.yaml", "", "the file is larger than 1024 KiB", "split it, or take out what is not needed"),
    (KESTREL, Write(b"hello\n"), "wrong-type", "shoes/kestrel.yaml:1:1", "", "the text `hello` where a map is expected", "a map has its keys below it: `schema`, `maker`, `model`,"),
    ("shoes/Sea Gull.yaml", CopyOf(KESTREL), "unsafe-name", "shoes/Sea Gull.yaml", "", "the file's name is its address for ever, but `Sea Gull` is no", "rename it to `sea-gull.yaml`"),
    ("shoes/con.yaml", CopyOf(KESTREL), "unsafe-name", "shoes/con.yaml", "", "`con` is the name of a device on some systems, not of a file", "put the maker's name before it"),
    ("shoes/2026/kestrel.yaml", CopyOf(KESTREL), "same-address", "shoes/kestrel.yaml", "", "the address `kestrel` is taken by `shoes/2026/kestrel.yaml`", "rename one of the two files; folders are not part of the address"),
    ("shoes/out.yaml", LinkTo("/etc/passwd"), "outside-root", "shoes/out.yaml", "", "the link leads out of the lab's folder", "put the file itself here"),
    ("shoes/more", LinkTo("/etc"), "outside-root", "shoes/more", "", "the link leads out of the lab's folder", "put the file itself here"),
    (CURVE, Keep(22), "curve-unusable", "shoes/curves/kestrel.csv:2:1", "", "the curve has no unloading branch; record until the load is off", "record the loop again, or leave the curve away"),
    ("lab/ledger.jsonl", Write(b"{\x22on\x22: \x222026-11-20\x22}\n"), "ledger-unreadable", "lab/ledger.jsonl:1:1", "", "the line is no entry of a ledger: missing field `shoe` at line", "bring the file back from version control; it is only ever"),
    (PROTOCOL, Remove, "unreadable-file", "lab/protocol.yaml", "", "the file can't be read: there is no such file", "`solefolio begin DIR` lays a new lab with every file it needs"),
    (KESTREL, Replace("specimens:", "specimens: []\nnotes: |"), "wrong-length", "shoes/kestrel.yaml:9:12", "specimens", "0 specimens where 1 to 20 are expected", "say which physical shoe was measured, on which day, and its"),
    (KESTREL, Replace("released:", "price: {amount: -1, currency: EUR}\nreleased:"), "out-of-range", "shoes/kestrel.yaml:7:17", "price.amount", "a price of -1 can't be", "write what it costs, or leave the price away"),
    (LAB, Replace("\"https://creativecommons.org/licenses/by/4.0/\"", "\"javascript:alert(1)\""), "wrong-form", "lab/lab.yaml:8:78", "licence.address", "`javascript:alert(1)` is no address that begins with `https://`", "write the whole address, such as https://lab.example/"),
    (PROTOCOL, Replace("decimals: 0", "decimals: 9"), "out-of-range", "lab/protocol.yaml:20:15", "quantities.mass.decimals", "the decimals of a printed value must be 0 to 6, not 9", "write a whole number from 0 to 6"),
    (PROTOCOL, Replace("trials: 3", "trials: 0"), "out-of-range", "lab/protocol.yaml:22:13", "quantities.mass.trials", "the trials a specimen needs must be 1 to 100, not 0", "write a whole number from 1 to 100"),
    (PROTOCOL, Replace("coverage: 95 %", "coverage: 95 mm"), "wrong-unit", "lab/protocol.yaml:5:11", "coverage", "`95 mm` is no share of a whole", "write it in per cent, such as `95 %`"),
    (KESTREL, Replace("summary:", "accept: [{flag: spread, reason: ok}]\nsummary:"), "wrong-length", "shoes/kestrel.yaml:18:33", "accept[0].reason", "a reason of 2 characters; 8 at least are expected", "say why in a few words: the page shows it"),
    (RULES, Replace("firmness >= 80.0", "(firmness >= 80.0"), "expression-syntax", "lab/rules.yaml:35:11", "rules.hard.when", "the expression can't be read at its character 19: a `)` is", "write it as `torsion >= 60.0 && lift < 20.0`; names take"),
    (RULES, Replace("firmness >= 80.0", "firmness >= 80.0 # hard"), "expression-syntax", "lab/rules.yaml:35:11", "rules.hard.when", "the expression can't be read at its character 19: `#` does not", "write it as `torsion >= 60.0 && lift < 20.0`; names take"),
    (RULES, Replace("firmness >= 80.0", "firmness = 80.0"), "expression-syntax", "lab/rules.yaml:35:11", "rules.hard.when", "the expression can't be read at its character 11: `=` does not", "write it as `torsion >= 60.0 && lift < 20.0`; names take"),
    ("templates/html/review.html", Write(b"{% if shoe %}"), "template-syntax", "templates/html/review.html:1:14", "", "unexpected end of input", ""),
    (LAB, Replace("contact:", "programs: {cards: {purpose: output, run: [sh]}}\ncontact:"), "program-setting", "lab/lab.yaml:7:29", "programs.cards.purpose", "`cards` makes files, and nothing says for what", "add `made-for: each-shoe`, `each-week` or `once`"),
    (LAB, Replace("contact:", "programs: {ride: {purpose: rule, run: []}}\ncontact:"), "nothing-given", "lab/lab.yaml:7:39", "programs.ride.run", "`ride` names no program to run", "write it and its arguments as a list"),
    (LAB, Replace("contact:", "programs: {ride: {purpose: rule, run: [sh], limits: {seconds: 0}}}\ncontact:"), "program-setting", "lab/lab.yaml:7:63", "programs.ride.limits.seconds", "a limit of 0 is out of range: 1 to 3600", "write a number from 1 to 3600"),
    ("templates/html/pages/own.html", Write(b"{# page\nviews: 1\nmade-for: each-shoe\naddress: all/\ntitle: All\n#}\n"), "page-header", "templates/html/pages/own.html:4:10", "address", "`all/` is the same for every shoe; it needs `{shoe}`", "write an address such as `shoes/{shoe}/bend.html`"),
];
