//! Enums whose values have words.

/// An enum with the word of each value: as it is kept, typed and listed.
macro_rules! words {
    (
        $(#[$about:meta])*
        pub enum $enum:ident { $($(#[$of:meta])* $value:ident = $word:literal,)* }
    ) => {
        $(#[$about])*
        pub enum $enum {
            $($(#[$of])* $value,)*
        }

        impl $crate::terms::words::Listed for $enum {
            const LIST: &'static [Self] = Self::ALL;
        }

        impl $enum {
            /// All values, in order.
            pub const ALL: &'static [Self] = &[$(Self::$value),*];

            /// Their words.
            pub const WORDS: &'static [&'static str] = &[$($word),*];

            /// Its word.
            pub const fn word(self) -> &'static str {
                match self {
                    $(Self::$value => $word,)*
                }
            }

            /// The value of a word.
            pub fn from_word(word: &str) -> Option<Self> {
                Self::ALL.iter().copied().find(|one| one.word() == word)
            }
        }
    };
}
pub(crate) use words;

/// A value of a list.
pub(crate) trait Listed: Copy + PartialEq + 'static {
    /// The list.
    const LIST: &'static [Self];
}
