//! From a parsed expression to a checked one: every part a number or a truth.

use super::tree::{Arithmetic, Comparison, Extreme, Function, Number, Truth};
use super::{Variables, parse};
use crate::diagnostics::KeyPath;
use crate::rules::Mistake;
use crate::rules::names::{Meaning, Names};
use cel::common::ast::operators as op;
use cel::common::ast::{CallExpr, Expr, IdedExpr, LiteralValue, SourceInfo};

/// A checked part.
pub(super) enum Node {
    Number(Number),
    Truth(Truth),
    /// A mistake in it is noted already.
    Wrong,
}

/// Checks an expression, and gives the places of the variables it uses.
pub(super) fn check(
    text: &str,
    names: &Names,
    variables: &mut Variables,
    path: &KeyPath,
) -> Result<(Node, Vec<usize>), Vec<Mistake>> {
    let (root, source) = parse(text).map_err(|fault| {
        let syntax = fault.code == "expression-syntax";
        let cause = names.out_of_reach(text).filter(|_| syntax);
        let hint = cause.unwrap_or(fault.hint);
        vec![Mistake::new(fault.code, path.clone(), fault.message).hint(hint)]
    })?;
    let mut checker = Checker {
        text,
        names,
        variables,
        path,
        source: &source,
        uses: Vec::new(),
        refused: Vec::new(),
        mistakes: Vec::new(),
    };
    let node = checker.node(&root);
    let (mut uses, mut mistakes) = (checker.uses, checker.mistakes);
    uses.sort_unstable();
    uses.dedup();
    if mistakes.is_empty() && uses.is_empty() {
        mistakes.push(
            Mistake::new(
                "expression-constant",
                path.clone(),
                "the expression names no quantity and no finding, so it is the same for every shoe",
            )
            .hint("name a quantity or a finding, with underscores for hyphens"),
        );
    }
    if mistakes.is_empty()
        && let Some(name) = names.read_as_subtraction(text)
    {
        mistakes.push(
            Mistake::new(
                "expression-syntax",
                path.clone(),
                format!(
                    "`{}` is a name, and reads as a subtraction here: a hyphen is a minus",
                    name.key
                ),
            )
            .hint(format!(
                "write `{}` if the name is meant, and spaces around the minus if not",
                name.variable
            )),
        );
    }
    // A name such as `true` is read, as something else than a name.
    let mistyped = mistakes.iter_mut().filter(|m| m.code == "expression-type");
    if let Some(cause) = names.out_of_reach(text) {
        mistyped.for_each(|mistake| mistake.hint = Some(cause.clone()));
    }
    if mistakes.is_empty() {
        Ok((node, uses))
    } else {
        Err(mistakes)
    }
}

struct Checker<'a> {
    text: &'a str,
    names: &'a Names,
    variables: &'a mut Variables,
    path: &'a KeyPath,
    source: &'a SourceInfo,
    uses: Vec<usize>,
    /// Variables that are told of already.
    refused: Vec<String>,
    mistakes: Vec<Mistake>,
}

impl Checker<'_> {
    fn wrong(&mut self, code: &'static str, message: String, hint: impl Into<String>) -> Node {
        self.mistakes
            .push(Mistake::new(code, self.path.clone(), message).hint(hint));
        Node::Wrong
    }

    /// ` at its character 12`, where that is known.
    fn place(&self, expr: &IdedExpr) -> String {
        match self.source.offset_for(expr.id) {
            Some((start, _)) => format!(" at character {}", start + 1),
            None => String::new(),
        }
    }

    fn node(&mut self, expr: &IdedExpr) -> Node {
        match &expr.expr {
            Expr::Literal(literal) => self.literal(expr, literal),
            Expr::Ident(variable) => self.variable(expr, variable),
            Expr::Call(call) => self.call(expr, call),
            _ => self.unsupported(expr, "this"),
        }
    }

    fn literal(&mut self, expr: &IdedExpr, literal: &LiteralValue) -> Node {
        let whole = match literal {
            LiteralValue::Double(value) => return self.finite(expr, *value.inner()),
            LiteralValue::Boolean(value) => return Node::Truth(Truth::Constant(*value.inner())),
            LiteralValue::Int(value) => value.inner().to_string(),
            LiteralValue::UInt(value) => value.inner().to_string(),
            _ => return self.unsupported(expr, "a text"),
        };
        let place = self.place(expr);
        self.wrong(
            "expression-whole-number",
            format!(
                "`{whole}`{place} is a whole number, which the expression language does not \
                 compute with quantities"
            ),
            format!("write {whole}.0"),
        )
    }

    fn finite(&mut self, expr: &IdedExpr, value: f64) -> Node {
        if value.is_finite() {
            return Node::Number(Number::Constant(value));
        }
        let place = self.place(expr);
        self.wrong(
            "expression-type",
            format!("the number{place} is too large"),
            "write a number with fewer digits",
        )
    }

    fn variable(&mut self, expr: &IdedExpr, variable: &str) -> Node {
        if let Some(name) = self.names.variable(variable)
            && name.meaning != Meaning::Words
        {
            let place = self.variables.place(name);
            self.uses.push(place);
            return Node::Number(Number::Variable(place));
        }
        if self.refused.iter().any(|known| known == variable) {
            return Node::Wrong;
        }
        self.refused.push(variable.to_owned());
        let place = self.place(expr);
        if self.names.variable(variable).is_some() {
            return self.wrong(
                "needs-a-number",
                format!("`{variable}`{place} is a finding in words, which has no number"),
                "name a quantity, a score or a formula",
            );
        }
        let hint = self
            .names
            .written_with_hyphens(self.text, variable)
            .unwrap_or_else(|| self.names.variable_hint(variable));
        self.wrong(
            "unknown-name",
            format!("`{variable}`{place} is neither a quantity nor a finding"),
            hint,
        )
    }

    fn unsupported(&mut self, expr: &IdedExpr, what: &str) -> Node {
        let place = self.place(expr);
        self.wrong(
            "expression-unsupported",
            format!("{what}{place} is not part of a rule's expression"),
            "use + - * /, comparisons, && || !, `a ? b : c`, math.least, math.greatest, math.abs, \
             math.sqrt, math.floor, math.ceil and math.round",
        )
    }

    fn call(&mut self, expr: &IdedExpr, call: &CallExpr) -> Node {
        if let Some(target) = &call.target {
            return match &target.expr {
                Expr::Ident(name) if name == "math" => self.function(expr, call),
                _ => self.unsupported(expr, &format!("`{}`", call.func_name)),
            };
        }
        match (call.func_name.as_str(), call.args.as_slice()) {
            (op::CONDITIONAL, [condition, then, otherwise]) => {
                self.choice(condition, then, otherwise)
            }
            (op::LOGICAL_NOT, [part]) => match self.truth(part) {
                Some(part) => Node::Truth(Truth::Not(Box::new(part))),
                None => Node::Wrong,
            },
            // A minus before a whole number is a call where the parser keeps it apart.
            (op::NEGATE, [part]) => match self.number(part) {
                Some(part) => Node::Number(Number::Negated(Box::new(part))),
                None => Node::Wrong,
            },
            (name, [left, right]) => self.two(expr, name, left, right),
            (name, _) => self.unsupported(expr, &format!("`{name}`")),
        }
    }

    fn two(&mut self, expr: &IdedExpr, name: &str, left: &IdedExpr, right: &IdedExpr) -> Node {
        if let Some(operation) = arithmetic(name) {
            return match (self.number(left), self.number(right)) {
                (Some(a), Some(b)) => Node::Number(Number::Two(operation, Box::new((a, b)))),
                _ => Node::Wrong,
            };
        }
        if let Some(comparison) = comparison(name) {
            return self.compare(comparison, left, right);
        }
        let (left_truth, right_truth) = match name {
            op::LOGICAL_AND | op::LOGICAL_OR => (self.truth(left), self.truth(right)),
            _ => {
                let symbol = name.trim_matches('_');
                return self.unsupported(expr, &format!("`{symbol}`"));
            }
        };
        match (left_truth, right_truth) {
            (Some(a), Some(b)) if name == op::LOGICAL_AND => {
                Node::Truth(Truth::Both(Box::new((a, b))))
            }
            (Some(a), Some(b)) => Node::Truth(Truth::Either(Box::new((a, b)))),
            _ => Node::Wrong,
        }
    }

    fn compare(&mut self, comparison: Comparison, left: &IdedExpr, right: &IdedExpr) -> Node {
        let equality = matches!(comparison, Comparison::Equal | Comparison::NotEqual);
        match (self.node(left), self.node(right)) {
            (Node::Number(a), Node::Number(b)) => {
                Node::Truth(Truth::Compare(comparison, Box::new((a, b))))
            }
            (Node::Truth(a), Node::Truth(b)) if equality => {
                let same = Truth::Same(Box::new((a, b)));
                Node::Truth(if comparison == Comparison::Equal {
                    same
                } else {
                    Truth::Not(Box::new(same))
                })
            }
            (Node::Wrong, _) | (_, Node::Wrong) => Node::Wrong,
            (_, Node::Truth(_)) => self.mixed(right, "a number", "true or false"),
            (Node::Truth(_), _) => self.mixed(left, "a number", "true or false"),
        }
    }

    fn choice(&mut self, condition: &IdedExpr, then: &IdedExpr, otherwise: &IdedExpr) -> Node {
        let condition = self.truth(condition);
        match (condition, self.node(then), self.node(otherwise)) {
            (Some(c), Node::Number(a), Node::Number(b)) => {
                Node::Number(Number::Choice(Box::new((c, a, b))))
            }
            (Some(c), Node::Truth(a), Node::Truth(b)) => {
                Node::Truth(Truth::Choice(Box::new((c, a, b))))
            }
            (_, Node::Number(_), Node::Truth(_)) => {
                self.mixed(otherwise, "a number", "true or false")
            }
            (_, Node::Truth(_), Node::Number(_)) => {
                self.mixed(otherwise, "true or false", "a number")
            }
            _ => Node::Wrong,
        }
    }

    fn function(&mut self, expr: &IdedExpr, call: &CallExpr) -> Node {
        let name = call.func_name.as_str();
        let extreme = match name {
            "least" => Some(Extreme::Least),
            "greatest" => Some(Extreme::Greatest),
            _ => None,
        };
        if let Some(extreme) = extreme {
            let parts: Vec<_> = call.args.iter().map(|arg| self.number(arg)).collect();
            let Some(parts) = parts.into_iter().collect::<Option<Vec<_>>>() else {
                return Node::Wrong;
            };
            if parts.is_empty() {
                return self.unsupported(expr, &format!("`math.{name}` of nothing"));
            }
            return Node::Number(Number::Extreme(extreme, parts));
        }
        let function = match name {
            "abs" => Function::Abs,
            "sqrt" => Function::Sqrt,
            "floor" => Function::Floor,
            "ceil" => Function::Ceil,
            "round" => Function::Round,
            _ => return self.unsupported(expr, &format!("`math.{name}`")),
        };
        match call.args.as_slice() {
            [part] => match self.number(part) {
                Some(part) => Node::Number(Number::Of(function, Box::new(part))),
                None => Node::Wrong,
            },
            _ => self.unsupported(expr, &format!("`math.{name}` of other than one number")),
        }
    }

    fn mixed(&mut self, expr: &IdedExpr, wanted: &str, found: &str) -> Node {
        let place = self.place(expr);
        self.wrong(
            "expression-type",
            format!("the part{place} comes to {found}, and {wanted} is expected"),
            "put brackets around what belongs together, as in `(a < 1.0) && (b < 2.0)`",
        )
    }

    fn number(&mut self, expr: &IdedExpr) -> Option<Number> {
        match self.node(expr) {
            Node::Number(number) => Some(number),
            Node::Truth(_) => {
                self.mixed(expr, "a number", "true or false");
                None
            }
            Node::Wrong => None,
        }
    }

    fn truth(&mut self, expr: &IdedExpr) -> Option<Truth> {
        match self.node(expr) {
            Node::Truth(truth) => Some(truth),
            Node::Number(_) => {
                self.mixed(expr, "true or false", "a number");
                None
            }
            Node::Wrong => None,
        }
    }
}

fn arithmetic(name: &str) -> Option<Arithmetic> {
    Some(match name {
        op::ADD => Arithmetic::Add,
        op::SUBSTRACT => Arithmetic::Subtract,
        op::MULTIPLY => Arithmetic::Multiply,
        op::DIVIDE => Arithmetic::Divide,
        _ => return None,
    })
}

fn comparison(name: &str) -> Option<Comparison> {
    Some(match name {
        op::LESS => Comparison::Less,
        op::LESS_EQUALS => Comparison::LessOrEqual,
        op::GREATER => Comparison::Greater,
        op::GREATER_EQUALS => Comparison::GreaterOrEqual,
        op::EQUALS => Comparison::Equal,
        op::NOT_EQUALS => Comparison::NotEqual,
        _ => return None,
    })
}
