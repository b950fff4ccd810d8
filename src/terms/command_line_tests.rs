use super::*;

fn ingest(text: &str, shell: Shell) -> String {
    CommandLine::new("ingest").argument(text).for_shell(shell)
}

#[test]
fn plain_words_stand_bare_and_others_in_quotes() {
    for (text, expect) in [
        ("/media/card-a", "framefall ingest /media/card-a"),
        ("a b", "framefall ingest 'a b'"),
        ("", "framefall ingest ''"),
        ("Süd 流星", "framefall ingest 'Süd 流星'"),
        ("$(touch${IFS}PWN)", "framefall ingest '$(touch${IFS}PWN)'"),
        (
            "x'; touch PWN; '",
            r"framefall ingest 'x'\''; touch PWN; '\'''",
        ),
        ("-x", "framefall ingest -- -x"),
        ("~", "framefall ingest '~'"),
        ("a\nb!", r#"framefall ingest "$(printf 'a\012b\041')""#),
        (
            "é\u{202e}%",
            r#"framefall ingest "$(printf 'é\342\200\256\045')""#,
        ),
    ] {
        assert_eq!(ingest(text, Shell::Posix), expect);
    }
}

/// From memory: the manuals of PowerShell (quoting rules) and of `cmd`; nothing starts within double quotes.
#[test]
fn on_windows_one_form_serves_both_shells() {
    for (text, expect) in [
        (r"D:\DCIM", r"framefall ingest D:\DCIM"),
        (r"D:\My Cards\", r#"framefall ingest "D:\My Cards\\""#),
        ("Dad's card", "framefall ingest \"Dad's card\""),
        ("a & calc", "framefall ingest \"a & calc\""),
        ("$(calc)", "framefall ingest \"`$(calc)\""),
        ("a”; calc; “", "framefall ingest \"a`”; calc; `“\""),
        (
            "a\" & calc & \"",
            "framefall ingest \"a$([char]34) & calc & $([char]34)\"",
        ),
        ("a\nb", "framefall ingest \"a$([char]10)b\""),
    ] {
        assert_eq!(ingest(text, Shell::Windows), expect);
    }
}

#[test]
fn options_and_blanks_stand_where_they_are_understood() {
    let line = CommandLine::new("site change")
        .argument("-Ridge")
        .option("--name", "-x")
        .blank_option("--zone")
        .flag("--dry-run");
    assert_eq!(
        line.for_shell(Shell::Posix),
        "framefall site change --name=-x --zone … --dry-run -- -Ridge"
    );
    assert_eq!(line.words(), None);
    assert_eq!(
        CommandLine::new("dump move").blank("NAME").to_string(),
        "framefall dump move NAME"
    );
}
