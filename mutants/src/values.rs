//! Plain values a function could return instead of its own.

use quote::ToTokens;
use syn::{GenericArgument, PathArguments, ReturnType, Type};

/// As Rust expressions; they need not compile.
pub fn values_of(output: &ReturnType) -> Vec<String> {
    match output {
        ReturnType::Default => vec!["()".to_owned()],
        ReturnType::Type(_, ty) => of_type(ty),
    }
}

fn texts(texts: &[&str]) -> Vec<String> {
    texts.iter().map(|&text| text.to_owned()).collect()
}

fn inner(segment: &syn::PathSegment) -> Vec<&Type> {
    match &segment.arguments {
        PathArguments::AngleBracketed(list) => list
            .args
            .iter()
            .filter_map(|argument| match argument {
                GenericArgument::Type(ty) => Some(ty),
                _ => None,
            })
            .collect(),
        _ => Vec::new(),
    }
}

fn wrapped(name: &str, ty: Option<&&Type>) -> Vec<String> {
    let values = ty.map_or_else(Vec::new, |ty| of_type(ty));
    values
        .iter()
        .map(|value| format!("{name}({value})"))
        .collect()
}

fn of_type(ty: &Type) -> Vec<String> {
    match ty {
        Type::Tuple(tuple) if tuple.elems.is_empty() => texts(&["()"]),
        Type::Tuple(tuple) => {
            let firsts = tuple.elems.iter().map(|ty| of_type(ty).into_iter().next());
            let firsts: Option<Vec<_>> = firsts.collect();
            firsts.map_or_else(Vec::new, |values| vec![format!("({},)", values.join(", "))])
        }
        Type::Reference(reference) => match reference.elem.to_token_stream().to_string().as_str() {
            "str" => texts(&["\"\"", "\"xyzzy\""]),
            _ if matches!(*reference.elem, Type::Slice(_)) => texts(&["&[]"]),
            _ => Vec::new(),
        },
        Type::Path(path) => path.path.segments.last().map_or_else(Vec::new, of_segment),
        _ => Vec::new(),
    }
}

fn of_segment(segment: &syn::PathSegment) -> Vec<String> {
    let inner = inner(segment);
    match segment.ident.to_string().as_str() {
        "bool" => texts(&["true", "false"]),
        "u8" | "u16" | "u32" | "u64" | "u128" | "usize" => texts(&["0", "1"]),
        "i8" | "i16" | "i32" | "i64" | "i128" | "isize" => texts(&["0", "1", "-1"]),
        "f32" | "f64" => texts(&["0.0", "1.0", "-1.0"]),
        "String" => texts(&["String::new()", "\"xyzzy\".to_owned()"]),
        "Cow" => texts(&["\"\".into()", "\"xyzzy\".into()"]),
        "Option" => {
            let mut values = texts(&["None"]);
            values.extend(wrapped("Some", inner.first()));
            values
        }
        "Result" if inner.is_empty() => texts(&["Ok(Default::default())"]),
        "Result" => wrapped("Ok", inner.first()),
        "Vec" => {
            let mut values = texts(&["vec![]"]);
            let of_one = inner.first().map_or_else(Vec::new, |ty| of_type(ty));
            values.extend(of_one.iter().map(|value| format!("vec![{value}]")));
            values
        }
        _ => texts(&["Default::default()"]),
    }
}
