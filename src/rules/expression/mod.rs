//! Expressions of a rule: parsed and checked once, evaluated for every shoe.
//!
//! The language is the Common Expression Language (its published definition,
//! github.com/google/cel-spec), cut down to what a rule needs: numbers, truths
//! and the facts by name. It has arithmetic `+ - * /`, comparisons, `&& || !`,
//! the choice `a ? b : c`, and of the math extension `math.least`,
//! `math.greatest`, `math.abs`, `math.sqrt`, `math.floor`, `math.ceil` and
//! `math.round`. There are no loops, texts or lists, so an expression's cost is
//! bounded by its length, which is limited.
//!
//! Everything that could go wrong at run time is refused here instead: an
//! unknown name, a number without a decimal point (the language does not
//! multiply whole numbers with others), a truth where a number belongs. What
//! remains is a missing fact and a result that is not finite (a division by
//! zero); both are [`Undecided`]. The logical operators decide without an
//! undecided side where the other side suffices: `false && x` is false whatever
//! `x` is, on either side, as the language defines it.

mod check;
mod tree;

pub(super) use tree::Undecided;

use super::Mistake;
use super::input::Input;
use super::names::{Name, Names};
use crate::diagnostics::KeyPath;
use crate::files::Key;
use cel::common::ast::{Expr, IdedExpr, SourceInfo};
use tree::{Number, Truth};

/// The longest an expression may be, in characters. The parser and the checks
/// recurse along it.
pub const LENGTH_LIMIT: usize = 400;

/// How deep brackets may nest.
pub const NESTING_LIMIT: u16 = 24;

/// The facts the expressions of one rule name: a variable is a place in this list.
#[derive(Clone, Debug, Default)]
pub(super) struct Variables(pub Vec<Input>);

impl Variables {
    /// What they stand for, in order of their places.
    pub fn keys(&self) -> Vec<Key> {
        self.0.iter().map(|input| input.key.clone()).collect()
    }

    /// The place of a name, added if it is new.
    fn place(&mut self, name: &Name) -> usize {
        let known = self.0.iter().position(|input| input.key == name.key);
        known.unwrap_or_else(|| {
            self.0.push(Input::new(name));
            self.0.len() - 1
        })
    }
}

/// An expression that comes to a number.
#[derive(Clone, Debug)]
pub(super) struct NumberExpression {
    root: Number,
}

/// An expression that comes to true or false.
#[derive(Clone, Debug)]
pub(super) struct TruthExpression {
    root: Truth,
    /// The variables it names, in order of their places.
    pub uses: Vec<usize>,
    /// Each variable that is compared with a constant, and that constant; rising.
    pub turns: Vec<(usize, f64)>,
}

impl NumberExpression {
    /// Checks an expression whose result must be a number.
    pub fn build(
        text: &str,
        names: &Names,
        variables: &mut Variables,
        path: &KeyPath,
    ) -> Result<Self, Vec<Mistake>> {
        let (node, _) = check::check(text, names, variables, path)?;
        match node {
            check::Node::Number(root) => Ok(NumberExpression { root }),
            _ => Err(vec![
                Mistake::new(
                    "expression-type",
                    path.clone(),
                    "the expression comes to true or false, and a number is expected",
                )
                .hint("choose numbers with `condition ? 1.0 : 0.0`, or make it an `advice`"),
            ]),
        }
    }

    /// The number at the given facts.
    pub fn at(&self, facts: &[Option<f64>]) -> Result<f64, Undecided> {
        self.root.at(facts)
    }
}

impl TruthExpression {
    /// Checks an expression whose result must be true or false.
    pub fn build(
        text: &str,
        names: &Names,
        variables: &mut Variables,
        path: &KeyPath,
    ) -> Result<Self, Vec<Mistake>> {
        let (node, uses) = check::check(text, names, variables, path)?;
        match node {
            check::Node::Truth(root) => Ok(TruthExpression {
                turns: root.turns(),
                root,
                uses,
            }),
            _ => Err(vec![
                Mistake::new(
                    "expression-type",
                    path.clone(),
                    "the expression comes to a number, and true or false is expected",
                )
                .hint("compare it with something, as in `torsion >= 60.0`"),
            ]),
        }
    }

    /// Whether it holds at the given facts.
    pub fn at(&self, facts: &[Option<f64>]) -> Result<bool, Undecided> {
        self.root.at(facts)
    }
}

/// The names an expression mentions, known or not; none if it does not parse.
pub(super) fn mentions(text: &str) -> Vec<Key> {
    let Ok((root, _)) = parse(text) else {
        return Vec::new();
    };
    let mut variables = Vec::new();
    identifiers(&root, &mut variables);
    variables
        .iter()
        .filter_map(|variable| variable.replace('_', "-").parse().ok())
        .collect()
}

fn identifiers<'a>(expr: &'a IdedExpr, found: &mut Vec<&'a str>) {
    match &expr.expr {
        Expr::Ident(name) => found.push(name),
        Expr::Call(call) => call.args.iter().for_each(|arg| identifiers(arg, found)),
        _ => {}
    }
}

/// What is wrong with the form of an expression.
struct FormFault {
    code: &'static str,
    message: String,
    hint: String,
}

fn parse(text: &str) -> Result<(IdedExpr, SourceInfo), FormFault> {
    let length = text.chars().count();
    if length > LENGTH_LIMIT {
        return Err(FormFault {
            code: "expression-too-long",
            message: format!(
                "an expression has {LENGTH_LIMIT} characters at most; this one has {length}"
            ),
            hint: "make a rule of kind `formula` of a part of it, and name that".into(),
        });
    }
    cel::parser::Parser::new()
        .max_recursion_depth(NESTING_LIMIT)
        .error_recovery_limit(4)
        .parse_with_source_info(text)
        .map_err(|errors| {
            let first = errors.errors.first();
            let reason = first.map_or("", |error| error.msg.as_str());
            if reason.contains("ecursion limit") {
                return FormFault {
                    code: "expression-too-deep",
                    message: format!("brackets nest {NESTING_LIMIT} deep at most"),
                    hint: "make a rule of kind `formula` of a part of it, and name that".into(),
                };
            }
            let column = first.map_or(1, |error| error.pos.1.max(0) + 1);
            FormFault {
                code: "expression-syntax",
                message: format!(
                    "the expression can't be read at its character {column}: {}",
                    plainly(reason)
                ),
                hint: "write it as `torsion >= 60.0 && lift < 20.0`; names take underscores for hyphens".into(),
            }
        })
}

/// What the parser says, without its own words for the pieces of the language.
fn plainly(reason: &str) -> String {
    let reason = reason.trim_start_matches("Syntax error: ");
    let quoted = reason
        .split_once('\'')
        .and_then(|(_, rest)| rest.split_once('\''))
        .map_or("", |(quoted, _)| quoted.trim());
    let missing = reason.starts_with("missing ");
    match quoted {
        "<EOF>" => "it ends too early".to_owned(),
        "=" => "`=` does not belong there; `==` compares".to_owned(),
        "" => "a name, a number or a sign is not where it should be".to_owned(),
        quoted if missing => format!("a `{quoted}` is missing"),
        quoted => format!("`{quoted}` does not belong there"),
    }
}

#[cfg(test)]
mod tests;
