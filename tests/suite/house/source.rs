//! Rust sources as tokens. The rules ask for paths, functions and constants; comments, strings
//! and formatting do not confuse them, and macros are looked into like everything else.

use proc_macro2::{Delimiter, Group, Ident, LineColumn, TokenStream, TokenTree};
use selachron_tests::root;
use std::path::Path;

/// One source file.
pub struct Source {
    /// From the top of the tree, with slashes: `schemas/src/lib.rs`.
    pub path: String,
    /// As it stands on disk.
    pub text: String,
    tokens: Vec<TokenTree>,
}

/// A path that a source names, `use` lists taken apart: `std::fs::read`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Named {
    /// Its segments; a keyword or a lone name is a path of one.
    pub segments: Vec<String>,
    /// Where it begins.
    pub line: usize,
    /// Inline modules around it.
    pub inside: Vec<String>,
    /// Whether `as` follows: it goes on under another name, or is cast.
    pub renamed: bool,
    /// Whole numbers between the parentheses that follow, if any follow.
    pub numbers: Vec<u128>,
}

/// A function with a body.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Function {
    pub name: String,
    pub line: usize,
    /// Lines from `fn` to the closing brace.
    pub lines: usize,
    /// Inline modules around it.
    pub inside: Vec<String>,
    /// Whether an attribute whose last name is `test` stands on it.
    pub is_test: bool,
}

/// A `const` or `static` with its type and the whole numbers in its value.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Constant {
    pub name: String,
    pub line: usize,
    /// Its type without spaces.
    pub kind: String,
    pub numbers: Vec<u128>,
}

/// All Rust sources below a folder of the tree, in order of their paths.
pub fn sources(folder: &str) -> Vec<Source> {
    let top = root().join(folder);
    assert!(top.exists(), "{folder} is gone: tell the house rules where it went (tests/suite/house)");
    let mut files = Vec::new();
    files_below(&top, &mut files);
    files.iter().filter(|path| path.ends_with(".rs")).map(|path| Source::read(path)).collect()
}

/// All Rust sources of the project.
pub fn all_sources() -> Vec<Source> {
    ["schemas", "services", "clients", "tests", "demo"].into_iter().flat_map(sources).collect()
}

/// Every file below a folder, from the top of the tree; build output and hidden folders left out.
pub fn files_below(folder: &Path, files: &mut Vec<String>) {
    let mut entries: Vec<_> = std::fs::read_dir(folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display())).flatten().collect();
    entries.sort_by_key(std::fs::DirEntry::file_name);
    for entry in entries {
        let (path, name) = (entry.path(), entry.file_name().to_string_lossy().into_owned());
        if path.is_dir() {
            let passed_over = name.starts_with('.') || ["target", "node_modules", "__pycache__"].contains(&name.as_str());
            if !passed_over {
                files_below(&path, files);
            }
        } else {
            let from_top = path.strip_prefix(root()).expect("below the top");
            files.push(from_top.to_string_lossy().replace('\\', "/"));
        }
    }
}

impl Source {
    fn read(path: &str) -> Self {
        let text = std::fs::read_to_string(root().join(path)).unwrap_or_else(|e| panic!("{path}: {e}"));
        Self::from_text(path, &text)
    }

    /// A source that need not exist, to try a rule on.
    pub fn from_text(path: &str, text: &str) -> Self {
        let tokens: TokenStream = text.parse().unwrap_or_else(|e| panic!("{path} is not Rust: {e}"));
        Self { path: path.to_owned(), text: text.to_owned(), tokens: tokens.into_iter().collect() }
    }

    /// Whether all of it is for tests or benches.
    pub fn is_test(&self) -> bool {
        self.path.starts_with("tests/") || self.path.contains("/tests/") || self.path.contains("/benches/")
    }

    /// Every path outside `#[cfg(test)]`.
    pub fn paths(&self) -> Vec<Named> {
        let mut found = Vec::new();
        collect_paths(&without_tests(&self.tokens), &[], &mut Vec::new(), &mut found);
        found
    }

    /// Every function outside `#[cfg(test)]`.
    pub fn functions(&self) -> Vec<Function> {
        let mut found = Vec::new();
        collect_functions(&without_tests(&self.tokens), &mut Vec::new(), &mut found);
        found
    }

    /// Every test function, whether or not it stands under `#[cfg(test)]`.
    pub fn tests(&self) -> Vec<Function> {
        let mut found = Vec::new();
        collect_functions(&self.tokens, &mut Vec::new(), &mut found);
        found.into_iter().filter(|function| function.is_test).collect()
    }

    /// Every constant outside `#[cfg(test)]`.
    pub fn constants(&self) -> Vec<Constant> {
        let mut found = Vec::new();
        collect_constants(&without_tests(&self.tokens), &mut found);
        found
    }

    /// The modules it declares or holds outside `#[cfg(test)]`, in order.
    pub fn modules(&self) -> Vec<String> {
        let tokens = without_tests(&self.tokens);
        tokens.windows(2).filter(|pair| is_word(&pair[0], "mod")).filter_map(|pair| word(&pair[1])).collect()
    }

    /// Its place among the modules of its crate: `http/answers.rs` is `[http, answers]`.
    pub fn module_path(&self) -> Vec<String> {
        let below =
            self.path.split_once("/src/").or_else(|| self.path.split_once("/suite/")).map_or(self.path.as_str(), |(_, below)| below);
        let mut parts: Vec<String> = below.trim_end_matches(".rs").split('/').map(str::to_owned).collect();
        if parts.last().is_some_and(|last| ["mod", "lib", "main"].contains(&last.as_str())) {
            parts.pop();
        }
        parts
    }

    /// `path:line`, as editors read it.
    pub fn at(&self, line: usize) -> String {
        format!("{}:{line}", self.path)
    }
}

impl Named {
    /// `a::b::c`
    pub fn text(&self) -> String {
        self.segments.join("::")
    }

    /// Whether it begins with these segments.
    pub fn begins(&self, path: &str) -> bool {
        let wanted: Vec<&str> = path.split("::").collect();
        self.segments.len() >= wanted.len() && self.segments.iter().zip(&wanted).all(|(found, wanted)| found == wanted)
    }

    /// Whether it ends with these segments.
    pub fn ends(&self, path: &str) -> bool {
        let wanted: Vec<&str> = path.split("::").collect();
        self.segments.len() >= wanted.len() && self.segments.iter().rev().zip(wanted.iter().rev()).all(|(found, wanted)| found == wanted)
    }
}

/// The tokens but for items under `#[cfg(test)]`.
fn without_tests(tokens: &[TokenTree]) -> Vec<TokenTree> {
    let (mut kept, mut at) = (Vec::new(), 0);
    while at < tokens.len() {
        if punct(&tokens[at], '#') && tokens.get(at + 1).is_some_and(says_cfg_test) {
            at = end_of_item(tokens, at + 2);
            continue;
        }
        kept.push(match &tokens[at] {
            TokenTree::Group(group) => {
                let inner: TokenStream = without_tests(&inner(group)).into_iter().collect();
                let mut copy = Group::new(group.delimiter(), inner);
                copy.set_span(group.span());
                TokenTree::Group(copy)
            }
            other => other.clone(),
        });
        at += 1;
    }
    kept
}

fn says_cfg_test(token: &TokenTree) -> bool {
    let TokenTree::Group(group) = token else { return false };
    let words: Vec<String> = group.stream().to_string().split_whitespace().map(str::to_owned).collect();
    group.delimiter() == Delimiter::Bracket && words.concat() == "cfg(test)"
}

/// One past the item that begins at `at`: its first braces or semicolon.
fn end_of_item(tokens: &[TokenTree], at: usize) -> usize {
    let ends = |token: &TokenTree| punct(token, ';') || matches!(token, TokenTree::Group(g) if g.delimiter() == Delimiter::Brace);
    tokens[at..].iter().position(ends).map_or(tokens.len(), |end| at + end + 1)
}

fn collect_paths(tokens: &[TokenTree], prefix: &[String], inside: &mut Vec<String>, found: &mut Vec<Named>) {
    let mut at = 0;
    while at < tokens.len() {
        match &tokens[at] {
            TokenTree::Ident(first) => at = path_from(tokens, at, first, prefix, inside, found),
            TokenTree::Group(group) => {
                let module = module_around(tokens, at);
                inside.extend(module.clone());
                collect_paths(&inner(group), &[], inside, found);
                inside.truncate(inside.len() - usize::from(module.is_some()));
                at += 1;
            }
            _ => at += 1,
        }
    }
}

/// Takes one path, and the list in braces at its end, if it is a `use` list; one past its end.
fn path_from(
    tokens: &[TokenTree],
    start: usize,
    first: &Ident,
    prefix: &[String],
    inside: &mut Vec<String>,
    found: &mut Vec<Named>,
) -> usize {
    let mut segments = prefix.to_vec();
    // `use a::{self}` names `a` itself.
    if first != "self" || prefix.is_empty() {
        segments.push(first.to_string());
    }
    let mut at = start + 1;
    while tokens.get(at).is_some_and(|t| punct(t, ':')) && tokens.get(at + 1).is_some_and(|t| punct(t, ':')) {
        match tokens.get(at + 2) {
            Some(TokenTree::Ident(next)) => segments.push(next.to_string()),
            Some(TokenTree::Group(list)) if list.delimiter() == Delimiter::Brace => {
                collect_paths(&inner(list), &segments, inside, found);
                return at + 3;
            }
            Some(star) if punct(star, '*') => segments.push("*".to_owned()),
            _ => break,
        }
        at += 3;
    }
    let renamed = tokens.get(at).is_some_and(|token| is_word(token, "as"));
    let numbers = match tokens.get(at) {
        Some(TokenTree::Group(group)) if group.delimiter() == Delimiter::Parenthesis => whole_numbers(&inner(group)),
        _ => Vec::new(),
    };
    found.push(Named { segments, line: start_of(&tokens[start]).line, inside: inside.clone(), renamed, numbers });
    at
}

fn collect_functions(tokens: &[TokenTree], inside: &mut Vec<String>, found: &mut Vec<Function>) {
    for (at, token) in tokens.iter().enumerate() {
        if is_word(token, "fn") {
            found.extend(function_at(tokens, at, inside));
        }
        if let TokenTree::Group(group) = token {
            let module = module_around(tokens, at);
            inside.extend(module.clone());
            collect_functions(&inner(group), inside, found);
            inside.truncate(inside.len() - usize::from(module.is_some()));
        }
    }
}

fn function_at(tokens: &[TokenTree], at: usize, inside: &[String]) -> Option<Function> {
    let name = word(tokens.get(at + 1)?)?;
    let end = end_of_item(tokens, at);
    let TokenTree::Group(body) = tokens.get(end - 1)? else { return None };
    let (first, last) = (start_of(&tokens[at]).line, body.span_close().end().line);
    Some(Function { name, line: first, lines: last - first + 1, inside: inside.to_vec(), is_test: has_test_attribute(&tokens[..at]) })
}

/// Looks back over the attributes and qualifiers in front of a function.
fn has_test_attribute(before: &[TokenTree]) -> bool {
    for token in before.iter().rev() {
        match token {
            TokenTree::Group(group) if group.delimiter() == Delimiter::Bracket => {
                let path: Vec<String> = inner(group).iter().map_while(|t| word(t).or_else(|| punct(t, ':').then(String::new))).collect();
                if path.last().is_some_and(|last| last == "test") {
                    return true;
                }
            }
            TokenTree::Group(group) if group.delimiter() == Delimiter::Brace => return false,
            other if punct(other, ';') => return false,
            _ => {}
        }
    }
    false
}

fn collect_constants(tokens: &[TokenTree], found: &mut Vec<Constant>) {
    for (at, token) in tokens.iter().enumerate() {
        if is_word(token, "const") || is_word(token, "static") {
            found.extend(constant_at(tokens, at));
        }
        if let TokenTree::Group(group) = token {
            collect_constants(&inner(group), found);
        }
    }
}

/// `const NAME: TYPE = VALUE;` and nothing else that begins with `const`.
fn constant_at(tokens: &[TokenTree], at: usize) -> Option<Constant> {
    let name = word(tokens.get(at + 1)?)?;
    if !punct(tokens.get(at + 2)?, ':') {
        return None;
    }
    let rest = &tokens[at + 3..];
    let equals = rest.iter().position(|t| punct(t, '='))?;
    let end = rest.iter().position(|t| punct(t, ';')).unwrap_or(rest.len());
    let value = rest.get(equals + 1..end)?;
    let kind: String = rest[..equals].iter().map(|t| t.to_string().replace(' ', "")).collect();
    Some(Constant { name, line: start_of(&tokens[at]).line, kind, numbers: whole_numbers(value) })
}

/// The whole numbers among tokens, those in groups included.
pub fn whole_numbers(tokens: &[TokenTree]) -> Vec<u128> {
    let number = |token: &TokenTree| match token {
        TokenTree::Literal(literal) => whole_number(&literal.to_string()).into_iter().collect(),
        TokenTree::Group(group) => whole_numbers(&inner(group)),
        _ => Vec::new(),
    };
    tokens.iter().flat_map(number).collect()
}

fn whole_number(literal: &str) -> Option<u128> {
    let plain = literal.replace('_', "");
    let (digits, radix) = match plain.get(..2) {
        Some("0x") => (&plain[2..], 16),
        Some("0o") => (&plain[2..], 8),
        Some("0b") => (&plain[2..], 2),
        _ => (plain.as_str(), 10),
    };
    let suffixes = ["usize", "isize", "u128", "i128", "u64", "i64", "u32", "i32", "u16", "i16", "u8", "i8"];
    let digits = suffixes.iter().find_map(|suffix| digits.strip_suffix(suffix)).unwrap_or(digits);
    u128::from_str_radix(digits, radix).ok()
}

/// Arrays filled with one literal, `[0; N]`: the numbers in N, with their line. (A type `[T; N]`
/// goes with such a value, or with a list whose length the compiler counts.)
pub fn array_lengths(source: &Source) -> Vec<(usize, u128)> {
    let mut found = Vec::new();
    collect_lengths(&without_tests(&source.tokens), &mut found);
    found
}

fn collect_lengths(tokens: &[TokenTree], found: &mut Vec<(usize, u128)>) {
    for token in tokens {
        let TokenTree::Group(group) = token else { continue };
        let inner = inner(group);
        if group.delimiter() == Delimiter::Bracket
            && matches!(inner.first(), Some(TokenTree::Literal(_)))
            && let Some(semicolon) = inner.iter().position(|t| punct(t, ';'))
        {
            found.extend(whole_numbers(&inner[semicolon..]).into_iter().map(|number| (start_of(token).line, number)));
        }
        collect_lengths(&inner, found);
    }
}

fn module_around(tokens: &[TokenTree], group: usize) -> Option<String> {
    let is_module = group >= 2 && is_word(&tokens[group - 2], "mod");
    is_module.then(|| word(&tokens[group - 1])).flatten()
}

fn inner(group: &Group) -> Vec<TokenTree> {
    group.stream().into_iter().collect()
}

fn start_of(token: &TokenTree) -> LineColumn {
    token.span().start()
}

fn punct(token: &TokenTree, wanted: char) -> bool {
    matches!(token, TokenTree::Punct(found) if found.as_char() == wanted)
}

fn word(token: &TokenTree) -> Option<String> {
    match token {
        TokenTree::Ident(ident) => Some(ident.to_string()),
        _ => None,
    }
}

fn is_word(token: &TokenTree, wanted: &str) -> bool {
    matches!(token, TokenTree::Ident(ident) if ident == wanted)
}

#[test]
fn paths_are_taken_apart() {
    let text = "
        use std::{fs, net::{self, TcpStream as Stream}};
        mod inner { fn f() -> u8 { format!(\"{}\", crate::store::get::<u8>(40)) } }
        #[cfg(test)] mod tests { use std::env; }
    ";
    let source = Source::from_text("a/src/b.rs", text);
    let named: Vec<String> = source.paths().iter().map(Named::text).collect();
    for wanted in ["std::fs", "std::net", "std::net::TcpStream", "crate::store::get"] {
        assert!(named.iter().any(|path| path == wanted), "{wanted} is not among {named:?}");
    }
    assert!(!named.iter().any(|path| path == "std::env"), "what is for tests is left out");
    let store = source.paths().into_iter().find(|path| path.begins("crate::store")).unwrap();
    assert_eq!((store.line, store.inside), (3, vec!["inner".to_owned()]));
    assert!(source.paths().iter().any(|path| path.ends("TcpStream") && path.renamed));
}

#[test]
fn functions_and_tests_are_measured() {
    let text = "fn one() {}\nimpl A {\n  pub async fn three(\n  ) {\n  }\n}\ntrait T { fn none(); }\n#[tokio::test]\nasync fn asks() {}\n#[cfg(test)]\nmod tests {\n#[test]\nfn hidden() {}\n}";
    let source = Source::from_text("a/src/b.rs", text);
    let measured: Vec<(String, usize)> = source.functions().into_iter().map(|f| (f.name, f.lines)).collect();
    assert_eq!(measured, [("one".to_owned(), 1), ("three".to_owned(), 3), ("asks".to_owned(), 1)]);
    let tests: Vec<(String, Vec<String>)> = source.tests().into_iter().map(|f| (f.name, f.inside)).collect();
    assert_eq!(tests, [("asks".to_owned(), vec![]), ("hidden".to_owned(), vec!["tests".to_owned()])]);
}
