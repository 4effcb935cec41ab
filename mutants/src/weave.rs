//! Where a source file can be made wrong, and the same file with every such place
//! behind a switch.

use crate::edits::{Edit, OPENING, Woven, assemble};
use crate::values::values_of;
use proc_macro2::Span;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use std::ops::Range;
use syn::punctuated::Punctuated;
use syn::spanned::Spanned;
use syn::visit::{self, Visit};
use syn::{BinOp, Expr, Token, UnOp};

/// One way to make one place wrong.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Mutant {
    /// What `MUTANT` is set to; never 0.
    pub id: usize,
    /// The first mutant of its place: places are reached, not single mutants.
    pub place: usize,
    pub file: String,
    pub line: usize,
    pub column: usize,
    pub function: String,
    pub what: String,
}

struct Weaver<'a> {
    source: &'a str,
    file: &'a str,
    dropped: &'a BTreeSet<usize>,
    function: Vec<String>,
    edits: Vec<Edit>,
    depth: isize,
    mutants: Vec<Mutant>,
    next: usize,
    /// The first id and the number of each place, dropped ones too.
    places: Vec<Range<usize>>,
}

/// Weaves the mutants of a file; ids start at `first` and do not depend on which of
/// them are dropped because they do not compile.
///
/// # Errors
///
/// The parser's, if it is no Rust source.
pub fn weave(
    file: &str,
    source: &str,
    first: usize,
    dropped: &BTreeSet<usize>,
) -> syn::Result<(Woven, Vec<Mutant>, usize)> {
    let tree = syn::parse_file(source)?;
    let mut weaver = Weaver {
        source,
        file,
        dropped,
        function: Vec::new(),
        edits: Vec::new(),
        depth: 0,
        mutants: Vec::new(),
        next: first,
        places: Vec::new(),
    };
    weaver.visit_file(&tree);
    let next = weaver.next;
    let woven = assemble(source, &mut weaver.edits, &weaver.places);
    Ok((woven, weaver.mutants, next))
}

/// What an operator is exchanged for.
fn others(op: &BinOp) -> &'static [&'static str] {
    match op {
        BinOp::Add(_) => &["-", "*"],
        BinOp::Sub(_) => &["+", "/"],
        BinOp::Mul(_) => &["+", "/"],
        BinOp::Div(_) => &["*", "%"],
        BinOp::Rem(_) => &["/", "+"],
        BinOp::Eq(_) => &["!="],
        BinOp::Ne(_) => &["=="],
        BinOp::Lt(_) => &["<=", "==", ">"],
        BinOp::Le(_) => &["<", "==", ">"],
        BinOp::Gt(_) => &[">=", "==", "<"],
        BinOp::Ge(_) => &[">", "==", "<"],
        BinOp::And(_) => &["||"],
        BinOp::Or(_) => &["&&"],
        BinOp::AddAssign(_) => &["-=", "*="],
        BinOp::SubAssign(_) => &["+=", "/="],
        BinOp::MulAssign(_) => &["+=", "/="],
        BinOp::DivAssign(_) => &["*=", "%="],
        _ => &[],
    }
}

fn holds_let(expr: &Expr) -> bool {
    match expr {
        Expr::Let(_) => true,
        Expr::Binary(both) => holds_let(&both.left) || holds_let(&both.right),
        _ => false,
    }
}

/// `_` or a new name; a name in capitals, such as `None`, is one thing alone.
fn is_anything(pattern: &syn::Pat) -> bool {
    match pattern {
        syn::Pat::Wild(_) => true,
        syn::Pat::Ident(name) => {
            let starts = name.ident.to_string();
            name.subpat.is_none() && !starts.starts_with(char::is_uppercase)
        }
        _ => false,
    }
}

fn is_test(attributes: &[syn::Attribute]) -> bool {
    attributes.iter().any(|attribute| {
        let path = attribute.path();
        path.is_ident("test")
            || path.is_ident("cfg")
                && matches!(&attribute.meta, syn::Meta::List(list) if list.tokens.to_string() == "test")
    })
}

impl Weaver<'_> {
    /// A new place with these ways to be wrong; none if none of them compiles.
    fn place(&mut self, span: Span, ways: &[String]) -> Option<(usize, usize)> {
        let first = self.next;
        self.next += ways.len();
        self.places.push(first..self.next);
        let start = span.start();
        for (number, what) in ways.iter().enumerate() {
            if !self.dropped.contains(&(first + number)) {
                self.mutants.push(Mutant {
                    id: first + number,
                    place: first,
                    file: self.file.to_owned(),
                    line: start.line,
                    column: start.column + 1,
                    function: self.function.join("::"),
                    what: what.clone(),
                });
            }
        }
        let kept = (first..self.next).any(|id| !self.dropped.contains(&id));
        kept.then_some((first, self.places.len() - 1))
    }

    fn lives(&self, id: usize) -> bool {
        !self.dropped.contains(&id)
    }

    fn put(&mut self, range: Range<usize>, order: isize, text: String, place: usize) {
        self.edits.push(Edit {
            range,
            order,
            text,
            place,
        });
    }

    /// Texts about an expression; those of outer expressions stand outside.
    fn about(&mut self, span: Span, before: &str, after: &str, place: usize) {
        let range = span.byte_range();
        let (start, end) = (range.start, range.end);
        self.put(start..start, OPENING + self.depth, before.to_owned(), place);
        self.put(end..end, -self.depth, after.to_owned(), place);
    }

    fn text(&self, span: Span) -> String {
        let text = &self.source[span.byte_range()];
        let line = text.split_whitespace().collect::<Vec<_>>().join(" ");
        match line.char_indices().nth(60) {
            Some((at, _)) => format!("{}…", &line[..at]),
            None => line,
        }
    }

    /// `match` arms of a place: each way's expression, then the right one.
    fn arms(&self, first: usize, wrong: &[String], right: &str) -> String {
        let mut arms = format!("match crate::mutant::of({first}, {}) {{ ", wrong.len());
        for (number, way) in wrong.iter().enumerate() {
            if self.lives(first + number) {
                arms += &format!("{} => {{ {way} }} ", number + 1);
            }
        }
        arms + &format!("_ => {{ {right} }} }}")
    }

    fn binary(&mut self, both: &syn::ExprBinary) {
        let names = others(&both.op);
        if names.is_empty() || holds_let(&both.left) || holds_let(&both.right) {
            return;
        }
        let op = self.source[both.op.span().byte_range()].to_owned();
        let told = self.text(both.span());
        let ways: Vec<String> = names
            .iter()
            .map(|other| format!("{op} → {other} in {told}"))
            .collect();
        let Some((first, place)) = self.place(both.op.span(), &ways) else {
            return;
        };
        let middle = both.op.span().byte_range();
        match both.op {
            // The right side is asked only if it has to be.
            BinOp::And(_) => {
                let after = format!(") }} else {{ crate::mutant::is({first}) }})");
                self.about(both.span(), "(if ((", &after, place);
                let text = format!(") != crate::mutant::is({first})) {{ (");
                self.put(middle, 0, text, place);
            }
            BinOp::Or(_) => {
                let after = format!(") }} else {{ !crate::mutant::is({first}) }})");
                self.about(both.span(), "(if ((", &after, place);
                let text = format!(") == crate::mutant::is({first})) {{ (");
                self.put(middle, 0, text, place);
            }
            _ => {
                let way = |op: &str| match both.op {
                    BinOp::AddAssign(_)
                    | BinOp::SubAssign(_)
                    | BinOp::MulAssign(_)
                    | BinOp::DivAssign(_) => {
                        format!("*woven_x {op} woven_y")
                    }
                    _ => format!("woven_x {op} woven_y"),
                };
                let wrong: Vec<String> = names.iter().map(|other| way(other)).collect();
                let arms = self.arms(first, &wrong, &way(&op));
                let (left, right) = match both.op {
                    BinOp::Eq(_)
                    | BinOp::Ne(_)
                    | BinOp::Lt(_)
                    | BinOp::Le(_)
                    | BinOp::Gt(_)
                    | BinOp::Ge(_) => ("&", "&"),
                    BinOp::AddAssign(_)
                    | BinOp::SubAssign(_)
                    | BinOp::MulAssign(_)
                    | BinOp::DivAssign(_) => ("&mut ", ""),
                    _ => ("", ""),
                };
                let after = format!(")) {{ (woven_x, woven_y) => {arms} }})");
                self.about(both.span(), &format!("(match ({left}("), &after, place);
                self.put(middle, 0, format!("), {right}("), place);
            }
        }
    }

    /// A condition that always or never holds.
    fn condition(&mut self, cond: &Expr) {
        if holds_let(cond) {
            return;
        }
        let told = self.text(cond.span());
        let ways = [format!("true for {told}"), format!("false for {told}")];
        if let Some((first, place)) = self.place(cond.span(), &ways) {
            let before = format!("((crate::mutant::is({first}) || (");
            let after = format!(")) && !crate::mutant::is({}))", first + 1);
            self.about(cond.span(), &before, &after, place);
        }
    }

    fn body(&mut self, signature: &syn::Signature, block: &syn::Block) {
        if signature.constness.is_some() || block.stmts.is_empty() {
            return;
        }
        let values = values_of(&signature.output);
        let ways: Vec<String> = values
            .iter()
            .map(|value| format!("return {value} from {}", signature.ident))
            .collect();
        let Some((first, place)) = self.place(signature.ident.span(), &ways) else {
            return;
        };
        let wrong: Vec<String> = values
            .iter()
            .map(|value| format!("return {value};"))
            .collect();
        let arms = self.arms(first, &wrong, "");
        let at = block.brace_token.span.open().byte_range().end;
        self.put(at..at, 0, format!(" {arms} "), place);
    }

    fn within(&mut self, name: String, visit: impl FnOnce(&mut Self)) {
        self.function.push(name);
        visit(self);
        self.function.pop();
    }
}

impl<'ast> Visit<'ast> for Weaver<'_> {
    fn visit_item(&mut self, item: &'ast syn::Item) {
        match item {
            // What is worked out while compiling has no switches.
            syn::Item::Const(_) | syn::Item::Static(_) | syn::Item::Macro(_) => {}
            syn::Item::Mod(module) if is_test(&module.attrs) => {}
            _ => visit::visit_item(self, item),
        }
    }

    fn visit_item_fn(&mut self, item: &'ast syn::ItemFn) {
        if is_test(&item.attrs) || item.sig.constness.is_some() {
            return;
        }
        self.within(item.sig.ident.to_string(), |weaver| {
            weaver.body(&item.sig, &item.block);
            weaver.visit_block(&item.block);
        });
    }

    fn visit_item_impl(&mut self, item: &'ast syn::ItemImpl) {
        if is_test(&item.attrs) {
            return;
        }
        let name = self.text(item.self_ty.span());
        self.within(name, |weaver| {
            item.items
                .iter()
                .for_each(|item| weaver.visit_impl_item(item))
        });
    }

    fn visit_impl_item_const(&mut self, _: &'ast syn::ImplItemConst) {}

    fn visit_impl_item_fn(&mut self, item: &'ast syn::ImplItemFn) {
        if is_test(&item.attrs) || item.sig.constness.is_some() {
            return;
        }
        self.within(item.sig.ident.to_string(), |weaver| {
            weaver.body(&item.sig, &item.block);
            weaver.visit_block(&item.block);
        });
    }

    fn visit_trait_item_fn(&mut self, item: &'ast syn::TraitItemFn) {
        if let Some(block) = &item.default {
            self.within(item.sig.ident.to_string(), |weaver| {
                weaver.body(&item.sig, block);
                weaver.visit_block(block);
            });
        }
    }

    fn visit_pat(&mut self, _: &'ast syn::Pat) {}
    fn visit_type(&mut self, _: &'ast syn::Type) {}
    fn visit_generic_argument(&mut self, _: &'ast syn::GenericArgument) {}
    fn visit_attribute(&mut self, _: &'ast syn::Attribute) {}
    fn visit_expr_const(&mut self, _: &'ast syn::ExprConst) {}

    fn visit_local(&mut self, local: &'ast syn::Local) {
        if !is_test(&local.attrs) {
            visit::visit_local(self, local);
        }
    }

    fn visit_macro(&mut self, call: &'ast syn::Macro) {
        const WITH_EXPRESSIONS: [&str; 10] = [
            "format", "write", "writeln", "vec", "bail", "anyhow", "ensure", "said", "assert",
            "matches",
        ];
        let known = call
            .path
            .get_ident()
            .is_some_and(|name| WITH_EXPRESSIONS.iter().any(|known| name == known));
        if known
            && let Ok(arguments) =
                call.parse_body_with(Punctuated::<Expr, Token![,]>::parse_terminated)
        {
            // The first of these is a text or, in `matches!`, followed by a pattern.
            let most = if call.path.is_ident("matches") {
                1
            } else {
                usize::MAX
            };
            for argument in arguments
                .iter()
                .take(most)
                .filter(|argument| !matches!(argument, Expr::Let(_)))
            {
                match argument {
                    Expr::Assign(named) => self.visit_expr(&named.right),
                    other => self.visit_expr(other),
                }
            }
        }
    }

    fn visit_expr(&mut self, expr: &'ast Expr) {
        self.depth += 1;
        match expr {
            Expr::Binary(both) => self.binary(both),
            Expr::If(choice) => self.condition(&choice.cond),
            Expr::Unary(one) => self.unary(one),
            Expr::Match(choice) => self.choice(choice),
            Expr::MethodCall(call) => self.method(call),
            _ => {}
        }
        self.depth += 1;
        visit::visit_expr(self, expr);
        self.depth -= 2;
    }
}

impl Weaver<'_> {
    fn unary(&mut self, one: &syn::ExprUnary) {
        let told = self.text(one.span());
        let sign = one.op.span().byte_range();
        // After what opens with the whole expression.
        let order = OPENING + self.depth + 1;
        match one.op {
            UnOp::Not(_) => {
                let ways = [format!("! left out of {told}")];
                if let Some((first, place)) = self.place(one.span(), &ways) {
                    let after = format!(") == crate::mutant::is({first}))");
                    self.about(one.span(), "(", &after, place);
                    self.put(sign, order, "(".to_owned(), place);
                }
            }
            UnOp::Neg(_) => {
                let ways = [format!("- left out of {told}")];
                if let Some((first, place)) = self.place(one.span(), &ways) {
                    let arms = self.arms(first, &["woven_x".to_owned()], "-woven_x");
                    let after = format!(") {{ woven_x => {arms} }})");
                    self.about(one.span(), "(", &after, place);
                    self.put(sign, order, "match (".to_owned(), place);
                }
            }
            _ => {}
        }
    }

    /// Arms left out, where another catches what they leave, and their guards.
    fn choice(&mut self, choice: &syn::ExprMatch) {
        let catches_all =
            (choice.arms.iter()).any(|arm| arm.guard.is_none() && is_anything(&arm.pat));
        for arm in &choice.arms {
            if let Some((_, guard)) = &arm.guard {
                self.condition(guard);
            } else if catches_all && !is_anything(&arm.pat) {
                let ways = [format!("arm left out: {}", self.text(arm.pat.span()))];
                if let Some((first, place)) = self.place(arm.pat.span(), &ways) {
                    let at = arm.pat.span().byte_range().end;
                    self.put(
                        at..at,
                        -self.depth,
                        format!(" if !crate::mutant::is({first})"),
                        place,
                    );
                }
            }
        }
    }

    /// The least for the greatest, and the other way round.
    fn method(&mut self, call: &syn::ExprMethodCall) {
        let name = call.method.to_string();
        let other = match name.as_str() {
            "min" => "max",
            "max" => "min",
            _ => return,
        };
        let ways = [format!("{name} → {other} in {}", self.text(call.span()))];
        let Some((first, place)) = self.place(call.method.span(), &ways) else {
            return;
        };
        let receiver = call.receiver.span().byte_range().end;
        let open = call.paren_token.span.open().byte_range();
        let close = call.paren_token.span.close().byte_range();
        let (taken, given) = if call.args.is_empty() {
            ("woven_x", "")
        } else {
            ("(woven_x, woven_y)", "woven_y")
        };
        let way = |name: &str| format!("woven_x.{name}({given})");
        let arms = self.arms(first, &[way(other)], &way(&name));
        let after = format!(")) {{ {taken} => {arms} }})");
        self.about(call.span(), "(match ((", &after, place);
        if call.args.is_empty() {
            self.put(receiver..close.end, 0, String::new(), place);
        } else {
            self.put(receiver..open.end, 0, "), (".to_owned(), place);
            self.put(close, 0, String::new(), place);
        }
    }
}
