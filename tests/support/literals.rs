//! Strings in source code.

/// The string literals of Rust code without comments, in order, as they are written there.
pub fn of(code: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut signs = code.chars().peekable();
    while let Some(sign) = signs.next() {
        match sign {
            // A character, or the beginning of a lifetime's name.
            '\'' => match signs.next() {
                Some('\\') => {
                    signs.next();
                }
                Some(_) if signs.peek() == Some(&'\'') => {
                    signs.next();
                }
                _ => {}
            },
            '"' => {
                let mut literal = String::new();
                while let Some(sign) = signs.next() {
                    match sign {
                        '"' => break,
                        '\\' => {
                            literal.push(sign);
                            literal.extend(signs.next());
                        }
                        sign => literal.push(sign),
                    }
                }
                found.push(literal);
            }
            _ => {}
        }
    }
    found
}
