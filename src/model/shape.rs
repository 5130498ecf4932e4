//! Shapes of texts: the pattern of the schema and the check of a sheet.

/// A shape that a text must have: the pattern of the schema and the check.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Shape {
    /// WIGOS station identifier (WMO-No. 1160: series, issuer, issue, local).
    WigosId,
    /// Call sign.
    CallSign,
    /// Area letters of a heading.
    Area,
    /// Centre of a heading.
    Centre,
    /// Delimiter of a table.
    Delimiter,
    /// Observer: characters of an element of 32 bits.
    Observer,
    /// Software: characters of an element of 96 bits.
    Software,
    /// Centre identifier of WIS2.
    CentreId,
    /// Address before a file name.
    BaseUrl,
    /// Identifier of a discovery metadata record.
    MetadataId,
    /// Reason of an order.
    Reason,
    /// Host name or address.
    Host,
    /// User of another machine.
    User,
    /// Path of a folder, here or on another machine.
    Path,
    /// Topic to which a notification is published.
    Topic,
}

impl Shape {
    pub(crate) const ALL: [Self; 15] = [
        Self::WigosId,
        Self::CallSign,
        Self::Area,
        Self::Centre,
        Self::Delimiter,
        Self::Observer,
        Self::Software,
        Self::CentreId,
        Self::BaseUrl,
        Self::MetadataId,
        Self::Reason,
        Self::Host,
        Self::User,
        Self::Path,
        Self::Topic,
    ];

    /// The pattern; it lets the empty string through, which counts as absent (but
    /// for a reason, which must be there).
    pub(crate) fn pattern(self) -> &'static str {
        match self {
            Self::WigosId => "^([0-9]{1,2}-[0-9]{1,5}-[0-9]{1,5}-[A-Za-z0-9]{1,16})?$",
            Self::CallSign => "^([A-Z0-9]{1,9})?$",
            Self::Area => "^([A-Z]{2})?$",
            Self::Centre => "^([A-Z0-9]{4})?$",
            Self::Delimiter => r#"^[^A-Za-z0-9"'+.\n\r-]?$"#,
            Self::Observer => "^([!-~]([ -~]{0,2}[!-~])?)?$",
            Self::Software => "^([!-~]([ -~]{0,10}[!-~])?)?$",
            Self::CentreId => "^([a-z]{2,}-[a-z0-9-]*[a-z0-9])?$",
            Self::BaseUrl => r#"^(https?://[^\s"'<>?#@\\^`{|}/][^\s"'<>?#@\\^`{|}]*)?$"#,
            Self::MetadataId => r"^(urn:wmo:md:[a-z]{2,}-[a-z0-9-]*[a-z0-9]:[A-Za-z0-9._~:-]+)?$",
            Self::Reason => r"\S",
            Self::Host => "^([A-Za-z0-9]([A-Za-z0-9.:-]*[A-Za-z0-9])?)?$",
            Self::User => "^([A-Za-z0-9_][A-Za-z0-9_.@+-]*)?$",
            Self::Path => r#"^[^"\\\x00-\x1f\x7f]*$"#,
            Self::Topic => r##"^([!"%-*,-~][!"$-*,-~]*)?$"##,
        }
    }

    pub(crate) fn wanted(self) -> &'static str {
        match self {
            Self::WigosId => "a WIGOS identifier such as 0-20000-0-99007",
            Self::CallSign => "a call sign of 1 to 9 capital letters or figures",
            Self::Area => "two capital letters",
            Self::Centre => "four capital letters or figures",
            Self::Delimiter => {
                "one character (no letter, figure, quote, sign, point or line break)"
            }
            Self::Observer => "1 to 4 printable ASCII characters without blanks at the ends",
            Self::Software => "1 to 12 printable ASCII characters without blanks at the ends",
            Self::CentreId => {
                "a centre identifier such as xx-invented (small letters of the top-level domain, a dash, then small letters, figures and dashes)"
            }
            Self::BaseUrl => {
                "an http:// or https:// address before a file name, without user, query or blanks, such as https://data.example.org/temp/"
            }
            Self::MetadataId => "a metadata identifier such as urn:wmo:md:xx-invented:soundings",
            Self::Reason => "a reason in words",
            Self::Host => "a host name or address such as hub.example.org",
            Self::User => {
                "a user: letters, figures and _ . @ + -, the first a letter, figure or underscore"
            }
            Self::Path => "a path without quotes, backslashes and control characters",
            Self::Topic => {
                "a topic of printable ASCII characters without blanks, # and +, that does not begin with $"
            }
        }
    }

    pub(crate) fn fits(self, text: &str) -> bool {
        let count = text.chars().count();
        let capitals = |c: char| c.is_ascii_uppercase() || c.is_ascii_digit();
        // BUFR fills up with blanks, so that one at an end would be lost.
        let plain = |most: usize| {
            let printable = |b: u8| (b' '..=b'~').contains(&b);
            (1..=most).contains(&count) && text.bytes().all(printable) && text.trim() == text
        };
        match self {
            Self::WigosId => {
                let parts: Vec<&str> = text.splitn(5, '-').collect();
                let figures = |part: &str, most: usize| {
                    (1..=most).contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit())
                };
                matches!(parts.as_slice(), [series, issuer, issue, local]
                    if figures(series, 2) && figures(issuer, 5) && figures(issue, 5)
                        && (1..=16).contains(&local.len())
                        && local.bytes().all(|b| b.is_ascii_alphanumeric()))
            }
            Self::CallSign => (1..=9).contains(&count) && text.chars().all(capitals),
            Self::Area => count == 2 && text.chars().all(|c| c.is_ascii_uppercase()),
            Self::Centre => count == 4 && text.chars().all(capitals),
            Self::Delimiter => {
                count == 1
                    && !text
                        .contains(|c: char| c.is_ascii_alphanumeric() || "\"'+.\n\r-".contains(c))
            }
            Self::CentreId => is_centre_id(text),
            Self::BaseUrl => is_base_url(text),
            Self::MetadataId => metadata_centre(text).is_some(),
            Self::Reason => !text.trim().is_empty(),
            Self::Host => {
                let inner = |c: char| c.is_ascii_alphanumeric() || ".:-".contains(c);
                let ends = [text.chars().next(), text.chars().last()];
                let ends = ends.map(|c| c.is_some_and(|c| c.is_ascii_alphanumeric()));
                text.chars().all(inner) && ends == [true, true]
            }
            Self::User => {
                let inner = |c: char| c.is_ascii_alphanumeric() || "_.@+-".contains(c);
                let first = text.chars().next();
                let first = first.is_some_and(|c| c.is_ascii_alphanumeric() || c == '_');
                first && text.chars().all(inner)
            }
            Self::Path => !text
                .chars()
                .any(|c| c.is_ascii_control() || "\"\\".contains(c)),
            Self::Topic => {
                let allowed = |b: u8| (b'!'..=b'~').contains(&b) && !b"#+".contains(&b);
                !text.starts_with('$') && text.bytes().all(allowed)
            }
            Self::Observer => plain(4),
            Self::Software => plain(12),
        }
    }
}

/// Whether a text is a centre identifier, `tld-name` (WIS2 Topic Hierarchy).
fn is_centre_id(text: &str) -> bool {
    let small = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
    text.split_once('-').is_some_and(|(domain, name)| {
        domain.len() >= 2
            && domain.bytes().all(|b| b.is_ascii_lowercase())
            && name.chars().all(small)
            && name.ends_with(|c: char| c.is_ascii_alphanumeric())
    })
}

/// Whether a text is an address to which a file name can be put.
///
/// An address with a user in it would tell everybody the user.
fn is_base_url(text: &str) -> bool {
    let rest = (text.strip_prefix("https://")).or_else(|| text.strip_prefix("http://"));
    let barred = |c: char| {
        !c.is_ascii() || c.is_whitespace() || c.is_ascii_control() || "\"'<>?#@\\^`{|}".contains(c)
    };
    rest.is_some_and(|rest| !rest.is_empty() && !rest.starts_with('/') && !rest.contains(barred))
}

/// The centre of a metadata identifier, `urn:wmo:md:CENTRE-ID:…` (WMO Core
/// Metadata Profile 2); `None` when it is none.
pub(crate) fn metadata_centre(text: &str) -> Option<&str> {
    let (centre, local) = text.strip_prefix("urn:wmo:md:")?.split_once(':')?;
    let plain = |c: char| c.is_ascii_alphanumeric() || "._~:-".contains(c);
    (is_centre_id(centre) && !local.is_empty() && local.chars().all(plain)).then_some(centre)
}
