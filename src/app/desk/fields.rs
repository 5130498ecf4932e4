//! Fields of a form, as a browser posts them.

/// The most fields of one request.
const MAX_FIELDS: usize = 500;

/// The longest value of a field, bytes.
const MAX_VALUE: usize = 2000;

/// Names and values in the order in which they were sent.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Fields(Vec<(String, String)>);

impl Fields {
    /// Reads `application/x-www-form-urlencoded` (WHATWG URL Standard, 5.1).
    ///
    /// # Errors
    /// Too many fields or one that is too long, in words.
    pub(super) fn parse(text: &[u8]) -> Result<Self, String> {
        let mut fields = Vec::new();
        for (name, value) in form_urlencoded::parse(text) {
            if fields.len() == MAX_FIELDS {
                return Err(format!("more than {MAX_FIELDS} fields"));
            }
            if name.len() > MAX_VALUE || value.len() > MAX_VALUE {
                let name: String = name.chars().take(60).collect();
                return Err(format!("{name}: longer than {MAX_VALUE} bytes"));
            }
            fields.push((name.into_owned(), value.into_owned()));
        }
        Ok(Self(fields))
    }

    /// The first value of a name; empty when there is none.
    pub(super) fn get(&self, name: &str) -> &str {
        let found = self.0.iter().find(|(n, _)| n == name);
        found.map_or("", |(_, value)| value.as_str())
    }

    /// Every value of a name.
    pub(super) fn all<'a>(&'a self, name: &str) -> impl Iterator<Item = &'a str> {
        let named = self.0.iter().filter(move |(n, _)| n == name);
        named.map(|(_, value)| value.as_str())
    }

    /// Whether the name was sent.
    pub(super) fn has(&self, name: &str) -> bool {
        self.0.iter().any(|(n, _)| n == name)
    }
}

#[cfg(test)]
mod tests {
    use proptest::collection::vec;
    use proptest::{prop_assert, prop_assert_eq, proptest};

    use super::*;

    #[test]
    fn fields_are_decoded() {
        let fields = Fields::parse(b"a=1&b=x+y%3D%c3%A9&a=2&c&d=%zz%").unwrap();
        assert_eq!(fields.get("a"), "1");
        assert_eq!(fields.all("a").collect::<Vec<_>>(), ["1", "2"]);
        assert_eq!(fields.get("b"), "x y=é");
        assert!(fields.has("c") && !fields.has("e"));
        assert_eq!(fields.get("d"), "%zz%");
        assert_eq!(fields.get("e"), "");
    }

    proptest! {
        /// What a browser encodes comes back (WHATWG URL Standard, 5.2), and any
        /// octets are fields or a refusal.
        #[test]
        fn any_fields_come_back(pairs in vec((".{0,20}", ".{0,20}"), 0..9), any in vec(0_u8..=255, 0..99)) {
            let encoded = |text: &str| -> String {
                text.bytes().map(|b| format!("%{b:02X}")).collect()
            };
            let text: Vec<String> = pairs
                .iter()
                .map(|(name, value)| format!("{}={}", encoded(name), encoded(value)))
                .collect();
            prop_assert_eq!(Fields::parse(text.join("&").as_bytes()), Ok(Fields(pairs)));
            prop_assert!(Fields::parse(&any).is_ok_and(|fields| fields.0.len() <= 99));
        }
    }

    #[test]
    fn fields_are_bounded() {
        assert!(Fields::parse(&b"a=1&".repeat(500)).is_ok());
        assert!(Fields::parse(&b"a=1&".repeat(501)).is_err());
        let long = ["a=".to_owned(), "x".repeat(2001)].concat();
        assert!(Fields::parse(long.as_bytes()).is_err());
    }
}
