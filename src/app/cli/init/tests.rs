use super::*;

fn asked(answers: &str, kind: bool) -> (Starter, String) {
    let mut starter = Starter::new(Form::Temp);
    let mut shown = Vec::new();
    ask(&mut starter, kind, &mut answers.as_bytes(), &mut shown).unwrap();
    (starter, String::from_utf8(shown).unwrap())
}

#[test]
fn what_is_missing_is_asked_for_until_it_can_stand_there() {
    let (starter, shown) = asked(
        "ship\nNO-SUCH\nXXXX9\n51,25\n-3.4\n2031-01-15T11:23:40Z\n",
        true,
    );
    assert!(starter.missing().is_empty(), "{shown}");
    let sheet = starter.print("");
    for line in [
        "kind = \"ship\"",
        "call_sign = \"XXXX9\"",
        "latitude_deg = 51.25",
    ] {
        assert!(sheet.lines().any(|l| l == line), "{line}: {sheet}");
    }
    // The refused answer is repeated with what is allowed, and asked for again.
    assert_eq!(shown.matches("station.call_sign: ").count(), 2, "{shown}");
    assert!(
        shown.contains("`station.call_sign` = \"NO-SUCH\""),
        "{shown}"
    );
    assert!(!shown.contains("wmo_block"), "{shown}");
}

#[test]
fn what_is_left_open_is_marked() {
    let (starter, _) = asked("\n\n11\n", true);
    let sheet = starter.print("");
    assert!(sheet.contains("wmo_block = \"\"  # REQUIRED\n"), "{sheet}");
    assert!(sheet.contains("\nwmo_number = 11\n"), "{sheet}");
    assert!(sheet.contains("release = \"\"  # REQUIRED\n"), "{sheet}");
}
