//! Writes a laboratory of any size, for measuring and for trying things out:
//! `cargo run --release --example synthesise -- --shoes 10000 --seed 7 DIR`.
//!
//! `DIR/lab/` is this repository's lab; `DIR/shoes/` holds the shoes, at most a
//! thousand a folder. Everything is invented. The makers are the demo's, the
//! models are put together from syllables, and the figures follow a few rules
//! of thumb (more foam weighs more, a soft heel keeps less of its drop, what
//! comes back on the rebound arm comes back in the load loop).
//!
//! Guarantees: the same shoes, seed and lab give the same bytes on every
//! machine, because each shoe has a seeded PCG generator and nothing but the four
//! operations and rounding is used on the way; no reading stops
//! publishing, because spread, plausible range, left against right,
//! conditioning and calibration dates are those of the lab's own files;
//! memory does not grow with the number of shoes.
//!
//! Grubbs' test may speak of some readings, as it does at a real bench.
//!
//! It fails if `DIR` is there and not empty, or can't be written.

mod ground;

use anyhow::{Context, Result, bail};
use clap::Parser;
use ground::{Bench, Ground, Limit, ground};
use jiff::ToSpan;
use jiff::civil::Date;
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;
use solefolio::quantity::Unit;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

/// Writes a laboratory of any size.
#[derive(Parser)]
struct Arguments {
    /// How many shoes
    #[arg(long, value_parser = clap::value_parser!(u32).range(1..=2_000_000))]
    shoes: u32,
    /// Another seed gives other shoes
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// The folder to write; it must be empty or not there
    dir: PathBuf,
}

fn main() -> Result<()> {
    let arguments = Arguments::parse();
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("lab");
    write_lab(&source, &arguments.dir, arguments.shoes, arguments.seed)
}

const A_FOLDER: u32 = 1000;
const MAKERS: [(&str, &str); 8] = [
    ("Fennick & Vale", "fennick-vale"),
    ("Tarnbeck", "tarnbeck"),
    ("Quillmoor", "quillmoor"),
    ("Lindqvarn", "lindqvarn"),
    ("Ostrell", "ostrell"),
    ("Dunmarrow", "dunmarrow"),
    ("Pellwick", "pellwick"),
    ("Mirrelton", "mirrelton"),
];
const HEADS: [&str; 24] = [
    "Alder",
    "Barrow",
    "Candle",
    "Dapple",
    "Eider",
    "Fallow",
    "Gannet",
    "Hazel",
    "Inkle",
    "Jackdaw",
    "Kindle",
    "Lapwing",
    "Mallow",
    "Nettle",
    "Oaken",
    "Plover",
    "Quaver",
    "Rushlight",
    "Sorrel",
    "Teasel",
    "Umber",
    "Vesper",
    "Wicket",
    "Yarrow",
];
const TAILS: [&str; 24] = [
    "by", "cote", "dale", "ford", "garth", "holt", "keld", "ley", "mere", "ness", "pike", "rigg",
    "shaw", "thorpe", "toft", "wath", "well", "wick", "bourne", "combe", "hythe", "stow", "dyke",
    "beck",
];

/// A category's middle and reach of what a shoe can be.
struct Kind {
    category: &'static str,
    /// Out of 100 shoes.
    share: u32,
    mass: (f64, f64),
    torque: (f64, f64),
    compression: (f64, f64),
    rebound: (f64, f64),
    drop: (f64, f64),
}

#[rustfmt::skip]
const KINDS: [Kind; 4] = [
    Kind { category: "road", share: 50, mass: (262.0, 30.0), torque: (4.3, 1.9), compression: (6.8, 1.6), rebound: (12.8, 3.8), drop: (7.5, 2.0) },
    Kind { category: "trail", share: 22, mass: (305.0, 30.0), torque: (6.3, 1.8), compression: (5.8, 1.4), rebound: (11.2, 2.8), drop: (5.8, 1.6) },
    Kind { category: "court", share: 13, mass: (328.0, 26.0), torque: (8.0, 1.5), compression: (4.3, 0.8), rebound: (9.8, 2.3), drop: (6.6, 1.5) },
    Kind { category: "walking", share: 15, mass: (312.0, 36.0), torque: (4.4, 1.7), compression: (5.4, 1.3), rebound: (8.2, 2.0), drop: (10.0, 1.9) },
];

/// Writes the laboratory.
///
/// # Errors
/// If `dir` is there and not empty, or something can't be read or written.
pub fn write_lab(source: &Path, dir: &Path, shoes: u32, seed: u64) -> Result<()> {
    if dir.exists() && fs::read_dir(dir)?.next().is_some() {
        bail!("{} is not empty; name a new folder", dir.display());
    }
    fs::create_dir_all(dir.join("lab"))?;
    for entry in fs::read_dir(source).context("reading the lab's files")? {
        let from = entry?.path();
        // The ledger seals what the demo published; none of it is here.
        let sealed = from.file_stem().is_some_and(|stem| stem == "ledger");
        if from.is_file() && !sealed {
            let name = from.file_name().context("a file has a name")?;
            let to = dir.join("lab").join(name);
            if name == "lab.yaml" {
                // A picture a shoe would take longer than all the rest, and nobody reads a
                // large print of thousands of sheets.
                let text = fs::read_to_string(&from)?;
                let text = text.replace("social-cards: true", "social-cards: false");
                fs::write(to, text.replace("large-print: true", "large-print: false"))?;
            } else {
                fs::copy(&from, to)?;
            }
        }
    }
    let ground = ground(&dir.join("lab"), shoes, seed)?;
    for first in (0..shoes).step_by(A_FOLDER as usize) {
        let folder = dir.join("shoes").join(format!("{:04}", first / A_FOLDER));
        fs::create_dir_all(&folder)?;
        for index in first..shoes.min(first + A_FOLDER) {
            let shoe = Shoe::draw(&ground, index)?;
            let path = folder.join(format!("{}.yaml", shoe.slug));
            fs::write(&path, shoe.text(&ground))
                .with_context(|| format!("writing {}", path.display()))?;
            if let Some(curve) = shoe.curve() {
                fs::create_dir_all(folder.join("curves"))?;
                fs::write(folder.join(format!("curves/{}.csv", shoe.slug)), curve)?;
            }
        }
    }
    Ok(())
}

/// The sum of twelve uniforms less six: mean 0, deviation 1, within ±6, and
/// the same on every machine because no logarithm is taken.
fn bell(random: &mut impl Rng) -> f64 {
    (0..12).map(|_| random.random::<f64>()).sum::<f64>() - 6.0
}

/// True once in `n`.
fn once_in(n: u32, random: &mut impl Rng) -> bool {
    random.random_range(0..n) == 0
}

/// One invented shoe: its true figures, before the bench scatters them.
struct Shoe {
    index: u32,
    slug: String,
    maker: &'static str,
    model: String,
    version: u32,
    kind: &'static Kind,
    size: u32,
    /// In the order of [`QUANTITIES`]; the mass at the reference size.
    figures: [f64; 6],
    /// Share of the energy that comes back, 0 to 1.
    energy_return: f64,
    published: Date,
    session: Date,
    bought: Date,
    released: Date,
    draft: bool,
    curved: bool,
    random: Pcg64Mcg,
}

impl Shoe {
    fn draw(ground: &Ground, index: u32) -> Result<Shoe> {
        // An odd multiplier spreads neighbouring indices over the seeds of a shoe.
        let mixed = u64::from(index).wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ ground.seed;
        let mut random = Pcg64Mcg::seed_from_u64(mixed);
        let (maker, address) = MAKERS[index as usize % MAKERS.len()];
        let nth = index as usize / MAKERS.len();
        let models = HEADS.len() * TAILS.len();
        // 331 has no divisor in common with 576, so the names run through all pairs.
        let place = (nth % models) * 331 % models;
        let model = format!(
            "{}{}",
            HEADS[place / TAILS.len()],
            TAILS[place % TAILS.len()]
        );
        let version = u32::try_from(nth / models)? + 1;
        let kind = kind(random.random_range(0..100));
        let published = ground
            .newest
            .checked_sub(i64::from(index % ground.weeks).weeks())?;
        // Tuesdays and Thursdays: the demo's control shoe is out of control on a Wednesday.
        let before: i32 = [2, 7, 9][random.random_range(0..3_u32) as usize];
        let session = published.checked_sub(before.days())?;
        let bought = session.checked_sub(random.random_range(8..60_i32).days())?;
        let released = bought.checked_sub(random.random_range(32..500_i32).days())?;
        let (figures, energy_return) = figures(kind, &mut random);
        Ok(Shoe {
            index,
            slug: format!("{address}-{}-{version}", model.to_lowercase()),
            maker,
            model,
            version,
            kind,
            size: [270, 270, 270, 270, 270, 270, 265, 275][random.random_range(0..8_u32) as usize],
            figures,
            energy_return,
            published,
            session,
            bought,
            released,
            draft: once_in(200, &mut random),
            curved: once_in(50, &mut random),
            random,
        })
    }

    /// The shoe's file.
    fn text(&self, ground: &Ground) -> String {
        let mut random = self.random.clone();
        let mut text = String::with_capacity(1600);
        let price = 70 + random.random_range(0..38_u32) * 5;
        let _ = write!(
            text,
            "# Invented: the maker, the shoe and every reading in this file are made up.\n\
             schema: 1\nmaker: {}\nmodel: {}\nversion: {}\ncategory: {}\n\
             size: {{system: mondopoint, value: {}}}\nprice: {{amount: {price}, currency: EUR}}\n\
             released: {:04}-{:02}\n",
            self.maker,
            self.model,
            self.version,
            self.kind.category,
            self.size,
            self.released.year(),
            self.released.month(),
        );
        if !self.draft {
            let _ = writeln!(text, "publish: {}", self.published);
        }
        let (temperature, near, humidity, about, soak) = ground.conditioning;
        let operator =
            &ground.operators[random.random_range(0..ground.operators.len() as u32) as usize];
        let session = format!(
            "{{on: {}, operator: {operator}, temperature: {:.1} °C, humidity: {:.0} %, soaked: {:.0} h}}",
            self.session,
            temperature + 0.8 * near * (2.0 * random.random::<f64>() - 1.0),
            humidity + 0.8 * about * (2.0 * random.random::<f64>() - 1.0),
            soak.ceil() + f64::from(random.random_range(0..10_u32)),
        );
        let sides: &[&str] = if once_in(3, &mut random) {
            &["left", "right"]
        } else {
            &["left"]
        };
        // One in a hundred has a quantity that could not be measured.
        let missing = once_in(100, &mut random).then(|| random.random_range(0..6_u32) as usize);
        let slipped = once_in(150, &mut random) && missing.is_none();
        text.push_str("specimens:\n");
        for side in sides {
            let mark = format!("{}-{}", self.index, if *side == "left" { "L" } else { "R" });
            let _ = write!(
                text,
                "  - id: {mark}\n    side: {side}\n    bought: {{on: {}, how: retail}}\n    session: {session}\n    readings:\n",
                self.bought,
            );
            for (place, bench) in ground.bench.iter().enumerate() {
                if missing != Some(place) {
                    let truth = self.truth(place);
                    let slip = slipped && *side == "left" && bench.name == "midfoot-torque";
                    let _ = writeln!(
                        text,
                        "      {}: {}",
                        bench.name,
                        trials(bench, truth, slip, &mut random)
                    );
                }
            }
            if self.curved && *side == "left" {
                let _ = writeln!(
                    text,
                    "      heel-load-curve: {{curve: curves/{}.csv}}",
                    self.slug
                );
            }
        }
        let _ = writeln!(text, "summary: {}", self.summary());
        if slipped {
            let _ = write!(
                text,
                "leave-out:\n  - specimen: {}-L\n    quantity: midfoot-torque\n    trial: 1\n    reason: The forefoot clamp was heard to slip.\n",
                self.index
            );
        }
        text
    }

    /// The true figure of a quantity in the measured size. The mass follows the
    /// protocol's gram a millimetre.
    fn truth(&self, place: usize) -> f64 {
        let step = if place == 0 {
            f64::from(self.size) - 270.0
        } else {
            0.0
        };
        self.figures[place] + step
    }

    fn summary(&self) -> String {
        let word = |value: f64, low: f64, high: f64, words: [&'static str; 3]| {
            words[usize::from(value >= low) + usize::from(value >= high)]
        };
        let [mass, torque, compression, ..] = self.figures;
        format!(
            "A {} {} shoe with a {} heel and a midfoot that {}.",
            word(mass, 235.0, 310.0, ["light", "middling", "heavy"]),
            self.kind.category,
            word(compression, 5.0, 7.5, ["firm", "yielding", "soft"]),
            word(
                torque,
                3.2,
                6.5,
                ["turns readily", "turns with some effort", "resists turning"]
            ),
        )
    }

    /// The load–travel loop, for shoes that have one: up along a soft toe into
    /// hard foam, and back below it so that the stated share of the energy returns.
    fn curve(&self) -> Option<String> {
        if !self.curved {
            return None;
        }
        const TOP: f64 = 451.5; // N; a little over the protocol's load, as a press overshoots
        const ROWS: u32 = 100;
        let mut random = self.random.clone();
        // Loading: 0.42 u + 0.16 u² + 0.42 u⁵, whose area is one third. At 10 N
        // u is 0.0519, and the protocol's travel counts from there.
        let reach = self.figures[2] / (1.0 - 0.0519);
        let load = |u: f64| 0.42 * u + 0.16 * u * u + 0.42 * u * u * u * u * u;
        // Unloading: (1 − w) u² + w u⁷, whose area is (1 − w)/3 + w/8.
        let w = (1.0 - self.energy_return) / 3.0 * 24.0 / 5.0;
        let unload = |u: f64| (1.0 - w) * u * u + w * u * u * u * u * u * u * u;
        let mut text = String::from("travel (mm),load (N)\n");
        for row in 0..=2 * ROWS {
            let (u, share) = if row <= ROWS {
                let u = f64::from(row) / f64::from(ROWS);
                (u, load(u))
            } else {
                let u = f64::from(2 * ROWS - row) / f64::from(ROWS);
                (u, unload(u))
            };
            let travel = (u * reach + 0.003 * bell(&mut random)).max(0.0);
            let still = row == ROWS || row == 0 || row == 2 * ROWS;
            let noise = if still { 0.0 } else { 0.5 * bell(&mut random) };
            let newton = (share * TOP + noise).clamp(0.0, TOP);
            let _ = writeln!(text, "{travel:.2},{newton:.1}");
        }
        Some(text)
    }
}

fn kind(draw: u32) -> &'static Kind {
    let mut upto = 0;
    KINDS
        .iter()
        .find(|kind| {
            upto += kind.share;
            draw < upto
        })
        .unwrap_or(&KINDS[0])
}

/// The true figures of a shoe of this kind, and its share of energy returned.
fn figures(kind: &Kind, random: &mut impl Rng) -> ([f64; 6], f64) {
    let around = |(middle, reach): (f64, f64), z: f64| middle + reach * z.clamp(-2.4, 2.4);
    let [foam, frame, spring, build, last] = std::array::from_fn(|_| bell(random));
    let compression = around(kind.compression, foam).max(2.6);
    let torque = around(kind.torque, 0.95 * frame - 0.25 * foam).max(0.9);
    // Racing foams are soft and lively, and little of them is used.
    let rebound = around(kind.rebound, 0.9 * spring + 0.2 * foam).max(3.5);
    let mass = around(
        kind.mass,
        0.25 * foam + 0.35 * frame - 0.55 * spring + 0.7 * build,
    )
    .max(140.0);
    let drop = around(kind.drop, last).max(2.2);
    let kept = (0.98 - 0.052 * (compression - 3.0) + 0.02 * bell(random)).clamp(0.45, 0.99);
    let energy_return = ((52.0 + 1.5 * rebound + bell(random)) / 100.0).clamp(0.55, 0.85);
    let figures = [mass, torque, compression, rebound, drop, drop * kept];
    (figures, energy_return)
}

/// A quantity's trials as a file has them, drawn again until the screening
/// has nothing to stop for. With `slip`, the first trial is a bad one that the
/// shoe's file leaves out.
fn trials(bench: &Bench, truth: f64, slip: bool, random: &mut impl Rng) -> String {
    let most = match bench.spread {
        Some(Limit::Absolute(most)) => most,
        Some(Limit::OfMean(share)) => share * truth.abs(),
        None => f64::INFINITY,
    };
    let scatter = bench.scatter.min(most / 2.8);
    let (least, greatest) = bench.plausible;
    let read = |value: f64| (value / bench.resolution).round() * bench.resolution;
    loop {
        let shift = bench.left_right.map_or(0.0, |limit| {
            0.05 * limit * (2.0 * random.random::<f64>() - 1.0)
        });
        let mut values: Vec<f64> = (0..bench.trials)
            .map(|_| read(truth + shift + scatter * bell(random)))
            .collect();
        let (low, high) = values
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
                (low.min(*v), high.max(*v))
            });
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        // A quarter of the limit on either side keeps left and right within it.
        let near = bench
            .left_right
            .is_none_or(|limit| (mean - truth).abs() <= limit / 4.0);
        if high - low > 0.9 * most || low < least || high > greatest || !near {
            continue;
        }
        if slip {
            values[0] = read(truth * 0.7).max(least);
        }
        let mut written: Vec<String> = values
            .iter()
            .map(|v| format!("{v:.*}", bench.decimals))
            .collect();
        // Now and then somebody reads the other scale of the wrench.
        if bench.name == "midfoot-torque" && !slip && once_in(20, random) {
            let customary = Unit::NewtonMetre.convert(values[0], Unit::InchPoundForce);
            if let Ok(inch_pounds) = customary {
                written[0] = format!("{inch_pounds:.1} in·lbf");
            }
        }
        return match &written[..] {
            [one] => one.clone(),
            several => format!("[{}]", several.join(", ")),
        };
    }
}
