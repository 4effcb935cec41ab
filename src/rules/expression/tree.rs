//! A checked expression and its evaluation.

/// Why an expression comes to nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::rules) enum Undecided {
    /// The fact at this place is missing.
    Missing(usize),
    /// A part of it is not a finite number, such as a division by zero.
    NotFinite,
}

/// A part that comes to a number.
#[derive(Clone, Debug)]
pub(super) enum Number {
    Constant(f64),
    Variable(usize),
    Negated(Box<Number>),
    Two(Arithmetic, Box<(Number, Number)>),
    /// The least or the greatest of several.
    Extreme(Extreme, Vec<Number>),
    Of(Function, Box<Number>),
    Choice(Box<(Truth, Number, Number)>),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Arithmetic {
    Add,
    Subtract,
    Multiply,
    Divide,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Extreme {
    Least,
    Greatest,
}

/// A function of one number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Function {
    Abs,
    Sqrt,
    Floor,
    Ceil,
    Round,
}

/// A part that is true or false.
#[derive(Clone, Debug)]
pub(super) enum Truth {
    Constant(bool),
    Not(Box<Truth>),
    Both(Box<(Truth, Truth)>),
    Either(Box<(Truth, Truth)>),
    Compare(Comparison, Box<(Number, Number)>),
    /// Whether two truths are the same.
    Same(Box<(Truth, Truth)>),
    Choice(Box<(Truth, Truth, Truth)>),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Comparison {
    Less,
    LessOrEqual,
    Greater,
    GreaterOrEqual,
    Equal,
    NotEqual,
}

impl Number {
    /// The number; every part of it is finite.
    pub fn at(&self, facts: &[Option<f64>]) -> Result<f64, Undecided> {
        let value = match self {
            Number::Constant(value) => *value,
            Number::Variable(place) => {
                let known = facts.get(*place).copied().flatten();
                known.ok_or(Undecided::Missing(*place))?
            }
            Number::Negated(part) => -part.at(facts)?,
            Number::Two(operation, parts) => {
                let (a, b) = (parts.0.at(facts)?, parts.1.at(facts)?);
                match operation {
                    Arithmetic::Add => a + b,
                    Arithmetic::Subtract => a - b,
                    Arithmetic::Multiply => a * b,
                    Arithmetic::Divide => a / b,
                }
            }
            Number::Extreme(extreme, parts) => {
                let mut found = parts[0].at(facts)?;
                for part in &parts[1..] {
                    let value = part.at(facts)?;
                    found = match extreme {
                        Extreme::Least => found.min(value),
                        Extreme::Greatest => found.max(value),
                    };
                }
                found
            }
            Number::Of(function, part) => {
                let value = part.at(facts)?;
                match function {
                    Function::Abs => value.abs(),
                    Function::Sqrt => value.sqrt(),
                    Function::Floor => value.floor(),
                    Function::Ceil => value.ceil(),
                    // Halves away from zero, as the language's extension has it.
                    Function::Round => value.round(),
                }
            }
            Number::Choice(parts) => {
                if parts.0.at(facts)? {
                    parts.1.at(facts)?
                } else {
                    parts.2.at(facts)?
                }
            }
        };
        if value.is_finite() {
            Ok(value)
        } else {
            Err(Undecided::NotFinite)
        }
    }

    fn find_turns(&self, found: &mut Vec<(usize, f64)>) {
        match self {
            Number::Constant(_) | Number::Variable(_) => {}
            Number::Negated(part) | Number::Of(_, part) => part.find_turns(found),
            Number::Two(_, parts) => {
                parts.0.find_turns(found);
                parts.1.find_turns(found);
            }
            Number::Extreme(_, parts) => parts.iter().for_each(|part| part.find_turns(found)),
            Number::Choice(parts) => {
                parts.0.find_turns(found);
                parts.1.find_turns(found);
                parts.2.find_turns(found);
            }
        }
    }
}

impl Truth {
    /// Where it may turn: each variable that is compared with a constant, and that
    /// constant; rising, each pair once.
    pub fn turns(&self) -> Vec<(usize, f64)> {
        let mut found = Vec::new();
        self.find_turns(&mut found);
        found.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
        found.dedup();
        found
    }

    fn find_turns(&self, found: &mut Vec<(usize, f64)>) {
        match self {
            Truth::Constant(_) => {}
            Truth::Not(part) => part.find_turns(found),
            Truth::Both(parts) | Truth::Either(parts) | Truth::Same(parts) => {
                parts.0.find_turns(found);
                parts.1.find_turns(found);
            }
            Truth::Compare(_, parts) => {
                let sides = [(&parts.0, &parts.1), (&parts.1, &parts.0)];
                for (side, other) in sides {
                    // What needs no fact is a constant.
                    if let Number::Variable(place) = side
                        && let Ok(constant) = other.at(&[])
                    {
                        found.push((*place, constant));
                    }
                    side.find_turns(found);
                }
            }
            Truth::Choice(parts) => {
                parts.0.find_turns(found);
                parts.1.find_turns(found);
                parts.2.find_turns(found);
            }
        }
    }

    /// Whether it holds.
    pub fn at(&self, facts: &[Option<f64>]) -> Result<bool, Undecided> {
        match self {
            Truth::Constant(value) => Ok(*value),
            Truth::Not(part) => Ok(!part.at(facts)?),
            Truth::Both(parts) => deciding(false, parts, facts),
            Truth::Either(parts) => deciding(true, parts, facts),
            Truth::Compare(comparison, parts) => {
                let (a, b) = (parts.0.at(facts)?, parts.1.at(facts)?);
                #[expect(
                    clippy::float_cmp,
                    reason = "the lab's own expression asks for equality"
                )]
                Ok(match comparison {
                    Comparison::Less => a < b,
                    Comparison::LessOrEqual => a <= b,
                    Comparison::Greater => a > b,
                    Comparison::GreaterOrEqual => a >= b,
                    Comparison::Equal => a == b,
                    Comparison::NotEqual => a != b,
                })
            }
            Truth::Same(parts) => Ok(parts.0.at(facts)? == parts.1.at(facts)?),
            Truth::Choice(parts) => {
                if parts.0.at(facts)? {
                    parts.1.at(facts)
                } else {
                    parts.2.at(facts)
                }
            }
        }
    }
}

/// `&&` or `||`: one side that comes to `decider` decides alone, even where the
/// other side is undecided.
fn deciding(
    decider: bool,
    parts: &(Truth, Truth),
    facts: &[Option<f64>],
) -> Result<bool, Undecided> {
    let left = parts.0.at(facts);
    if left == Ok(decider) {
        return left;
    }
    let right = parts.1.at(facts);
    if right == Ok(decider) {
        return right;
    }
    left.and(right)
}
