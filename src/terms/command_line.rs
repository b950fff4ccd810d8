//! Commands as messages print them: arguments in, text out that the user's shell parses into the same arguments. The
//! only place that builds a printed command. Runs nothing.

use std::ffi::OsStr;
use std::ffi::OsString;
use std::fmt;
use std::fmt::Write as _;
use std::sync::OnceLock;

use crate::terms::printable::moves_the_cursor;

/// The program's own name, as it is typed.
const PROGRAM: &str = "framefall";

/// The catalogue that printed commands name.
static CATALOGUE: OnceLock<OsString> = OnceLock::new();

/// Adds this catalogue to every command printed from now on, so that the command acts on the catalogue it was printed
/// for. Needed for a catalogue that is not the default; the first call wins.
pub fn name_catalogue(path: &OsStr) {
    let _ = CATALOGUE.set(path.to_owned());
}

/// Signs without a meaning in any shell, at any position in a word; in addition to letters and digits.
const PLAIN: &str = "-_./:,+@";

/// The shell that a command is printed for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shell {
    /// A shell that reads the POSIX command language.
    Posix,
    /// PowerShell, and `cmd` as far as one form works in both. In neither can a text run anything. Texts with `$`, a
    /// backtick, `%` or a double quote arrive unchanged only through PowerShell 7.3 or later.
    Windows,
}

impl Shell {
    /// The shell of the system on which the program runs.
    pub const OURS: Self = if cfg!(windows) {
        Self::Windows
    } else {
        Self::Posix
    };
}

#[derive(Clone, Debug, PartialEq, Eq)]
enum Word {
    /// Passed to the program unchanged.
    Text(OsString),
    /// Left for the user to write: `NAME`, `…`.
    Blank(&'static str),
}

impl Word {
    fn starts_with_dash(&self) -> bool {
        matches!(self, Self::Text(text) if text.as_encoded_bytes().starts_with(b"-"))
    }
}

/// A command of this program. When printed, it is quoted for [`Shell::OURS`] and contains no control character.
///
/// ```
/// use framefall::terms::command_line::CommandLine;
/// use framefall::terms::command_line::Shell;
/// let fix = CommandLine::new("clock fix")
///     .argument("Dad's body")
///     .option("--read", "2023-12-13 22:30:21")
///     .blank_option("--true");
/// assert_eq!(
///     fix.for_shell(Shell::Posix),
///     r"framefall clock fix 'Dad'\''s body' --read '2023-12-13 22:30:21' --true …"
/// );
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CommandLine {
    command: Vec<OsString>,
    arguments: Vec<Word>,
    options: Vec<(&'static str, Option<Word>)>,
}

impl CommandLine {
    /// The command of that name, `clock fix`.
    pub fn new(command: &'static str) -> Self {
        Self::typed(command.split(' '))
    }

    /// A command as it was typed, word by word.
    pub fn typed<S: AsRef<OsStr>>(words: impl IntoIterator<Item = S>) -> Self {
        Self {
            command: words.into_iter().map(|w| w.as_ref().to_owned()).collect(),
            arguments: Vec::new(),
            options: Vec::new(),
        }
    }

    /// Adds an argument.
    #[must_use]
    pub fn argument(mut self, text: impl AsRef<OsStr>) -> Self {
        self.arguments.push(Word::Text(text.as_ref().to_owned()));
        self
    }

    /// Adds an argument that the user fills in.
    #[must_use]
    pub fn blank(mut self, name: &'static str) -> Self {
        self.arguments.push(Word::Blank(name));
        self
    }

    /// Adds an option and its value.
    #[must_use]
    pub fn option(mut self, name: &'static str, value: impl AsRef<OsStr>) -> Self {
        let value = Word::Text(value.as_ref().to_owned());
        self.options.push((name, Some(value)));
        self
    }

    /// Adds an option whose value the user fills in.
    #[must_use]
    pub fn blank_option(mut self, name: &'static str) -> Self {
        self.options.push((name, Some(Word::Blank("…"))));
        self
    }

    /// Adds an option without a value.
    #[must_use]
    pub fn flag(mut self, name: &'static str) -> Self {
        self.options.push((name, None));
        self
    }

    /// The words passed to the program, with its own name first; `None` while there are blanks.
    pub fn words(&self) -> Option<Vec<OsString>> {
        self.in_order()
            .into_iter()
            .map(|(prefix, word)| match word {
                Word::Text(text) => {
                    let mut whole = OsString::from(prefix);
                    whole.push(text);
                    Some(whole)
                }
                Word::Blank(_) => None,
            })
            .collect()
    }

    /// The command in the syntax of a shell.
    pub fn for_shell(&self, shell: Shell) -> String {
        let words = self.in_order();
        let line = |quoted: &dyn Fn(&OsStr) -> String| {
            let written: Vec<String> = words
                .iter()
                .map(|(prefix, word)| match word {
                    Word::Text(text) => format!("{prefix}{}", quoted(text)),
                    Word::Blank(name) => format!("{prefix}{name}"),
                })
                .collect();
            written.join(" ")
        };
        let ends_in_newline = |(_, word): &(String, Word)| matches!(word, Word::Text(text) if text.as_encoded_bytes().ends_with(b"\n"));
        match shell {
            Shell::Windows => line(&windows),
            // Command substitution removes line feeds at the end of an output; those within a longer output are kept.
            Shell::Posix if words.iter().any(ends_in_newline) => {
                let mut inner = Vec::new();
                for (i, (prefix, word)) in words.iter().enumerate() {
                    if i > 0 {
                        inner.push(b' ');
                    }
                    inner.extend_from_slice(prefix.as_bytes());
                    match word {
                        Word::Text(text) => inner.extend(in_single_quotes(&bytes_of(text))),
                        Word::Blank(name) => inner.extend_from_slice(name.as_bytes()),
                    }
                }
                format!("eval \"$(printf '{}')\"", printf_format(&inner))
            }
            Shell::Posix => line(&posix),
        }
    }

    /// Every word, with the text written directly before it. Arguments that begin like options come last, after `--`;
    /// values that do are joined to their option.
    fn in_order(&self) -> Vec<(String, Word)> {
        let plain = |text: &OsStr| (String::new(), Word::Text(text.to_owned()));
        let mut words = vec![plain(OsStr::new(PROGRAM))];
        words.extend(self.command.iter().map(|word| plain(word)));
        let arguments = self.arguments.iter().map(|a| (String::new(), a.clone()));
        let dashed = self.arguments.iter().any(Word::starts_with_dash);
        if !dashed {
            words.extend(arguments.clone());
        }
        let catalogue = CATALOGUE.get().map(|path| Word::Text(path.clone()));
        let named = catalogue.map(|path| ("--catalogue", Some(path)));
        for (name, value) in self.options.iter().chain(&named) {
            match value {
                None => words.push(plain(OsStr::new(name))),
                Some(value) if value.starts_with_dash() => {
                    words.push((format!("{name}="), value.clone()));
                }
                Some(value) => {
                    words.push(plain(OsStr::new(name)));
                    words.push((String::new(), value.clone()));
                }
            }
        }
        if dashed {
            words.push(plain(OsStr::new("--")));
            words.extend(arguments);
        }
        words
    }
}

impl fmt::Display for CommandLine {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.for_shell(Shell::OURS))
    }
}

/// Whether a text has the same meaning in every shell, unquoted.
fn is_plain(text: &str) -> bool {
    !text.is_empty()
        && text
            .chars()
            .all(|c| c.is_ascii_alphanumeric() || PLAIN.contains(c))
}

/// The bytes of an argument as it arrives. No argument can contain a NUL: it ends there.
fn bytes_of(text: &OsStr) -> Vec<u8> {
    let mut bytes = text.as_encoded_bytes().to_vec();
    bytes.retain(|byte| *byte != 0);
    bytes
}

/// For a POSIX shell: bare, in single quotes, or printed by `printf` if it contains characters that must not reach a
/// terminal.
fn posix(text: &OsStr) -> String {
    match text.to_str() {
        Some(text) if is_plain(text) => text.to_owned(),
        Some(text) if !text.chars().any(moves_the_cursor) => {
            format!("'{}'", text.replace('\'', r"'\''"))
        }
        _ => format!("\"$(printf '{}')\"", printf_format(&bytes_of(text))),
    }
}

fn in_single_quotes(bytes: &[u8]) -> Vec<u8> {
    let mut quoted = vec![b'\''];
    for byte in bytes {
        if *byte == b'\'' {
            quoted.extend_from_slice(br"'\''");
        } else {
            quoted.push(*byte);
        }
    }
    quoted.push(b'\'');
    quoted
}

/// Bytes as a format of the POSIX `printf`. All but letters, digits and a few signs are octal numbers, so that neither
/// `printf` nor the history of an interactive shell finds anything to replace.
fn printf_format(bytes: &[u8]) -> String {
    let mut format = String::with_capacity(bytes.len() + 16);
    let octal = |format: &mut String, byte: u8| {
        let _ = write!(format, "\\{byte:03o}");
    };
    for chunk in bytes.utf8_chunks() {
        for c in chunk.valid().chars() {
            let bare = c.is_ascii_alphanumeric() || "_./:,+@ ".contains(c);
            if bare || (!c.is_ascii() && !moves_the_cursor(c)) {
                format.push(c);
            } else {
                let mut utf8 = [0; 4];
                for byte in c.encode_utf8(&mut utf8).bytes() {
                    octal(&mut format, byte);
                }
            }
        }
        for byte in chunk.invalid() {
            octal(&mut format, *byte);
        }
    }
    format
}

/// For the shells of Windows: bare or in double quotes, within which `cmd` starts nothing. Characters that PowerShell
/// would replace there are escaped for it.
fn windows(text: &OsStr) -> String {
    let text = text.to_string_lossy();
    if text.chars().all(|c| {
        c.is_ascii_alphanumeric() || c == '\\' || PLAIN.replace([',', '@'], "").contains(c)
    }) && !text.is_empty()
    {
        return text.into_owned();
    }
    let mut quoted = String::from("\"");
    for c in text.chars().filter(|c| *c != '\0') {
        match c {
            '$' | '`' | '“' | '”' | '„' => quoted.extend(['`', c]),
            '"' => quoted.push_str("$([char]34)"),
            c if moves_the_cursor(c) => {
                let mut units = [0; 2];
                for unit in c.encode_utf16(&mut units) {
                    let _ = write!(quoted, "$([char]{unit})");
                }
            }
            c => quoted.push(c),
        }
    }
    // A backslash before the closing quote would escape it.
    let at_end = quoted.len() - quoted.trim_end_matches('\\').len();
    quoted.push_str(&"\\".repeat(at_end));
    quoted.push('"');
    quoted
}

#[cfg(test)]
#[path = "command_line_tests.rs"]
mod tests;
