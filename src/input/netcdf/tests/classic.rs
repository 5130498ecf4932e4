//! Writes classic NetCDF files, octet by octet after the grammar of the NetCDF
//! classic format specification (Unidata): no reader of ours has a part in it.

/// Values of a variable or an attribute.
#[derive(Clone, Debug)]
pub enum Data {
    Byte(Vec<i8>),
    Char(String),
    Short(Vec<i16>),
    Int(Vec<i32>),
    Float(Vec<f32>),
    Double(Vec<f64>),
}

impl Data {
    fn code(&self) -> u32 {
        match self {
            Self::Byte(_) => 1,
            Self::Char(_) => 2,
            Self::Short(_) => 3,
            Self::Int(_) => 4,
            Self::Float(_) => 5,
            Self::Double(_) => 6,
        }
    }

    /// Octets of each value.
    fn values(&self) -> Vec<Vec<u8>> {
        match self {
            Self::Byte(v) => v.iter().map(|x| x.to_be_bytes().to_vec()).collect(),
            Self::Char(v) => v.bytes().map(|x| vec![x]).collect(),
            Self::Short(v) => v.iter().map(|x| x.to_be_bytes().to_vec()).collect(),
            Self::Int(v) => v.iter().map(|x| x.to_be_bytes().to_vec()).collect(),
            Self::Float(v) => v.iter().map(|x| x.to_be_bytes().to_vec()).collect(),
            Self::Double(v) => v.iter().map(|x| x.to_be_bytes().to_vec()).collect(),
        }
    }
}

impl From<&str> for Data {
    fn from(text: &str) -> Self {
        Self::Char(text.to_owned())
    }
}

/// A variable.
#[derive(Clone, Debug)]
pub struct Var {
    name: String,
    dimensions: Vec<String>,
    pub attributes: Vec<(String, Data)>,
    pub data: Data,
}

/// A file. A dimension of length 0 is the record dimension.
#[derive(Clone, Debug, Default)]
pub struct Classic {
    pub dimensions: Vec<(String, u32)>,
    pub attributes: Vec<(String, Data)>,
    pub variables: Vec<Var>,
    pub records: u32,
}

impl Classic {
    /// A file with dimensions.
    pub fn new(dimensions: &[(&str, u32)], records: u32) -> Self {
        let dimensions = dimensions.iter().map(|(n, l)| ((*n).to_owned(), *l));
        Self {
            dimensions: dimensions.collect(),
            records,
            ..Self::default()
        }
    }

    /// Adds an attribute of the file.
    pub fn global(mut self, name: &str, data: impl Into<Data>) -> Self {
        self.attributes.push((name.to_owned(), data.into()));
        self
    }

    /// Adds a variable.
    pub fn var(mut self, name: &str, dimensions: &[&str], data: Data) -> Self {
        self.variables.push(Var {
            name: name.to_owned(),
            dimensions: dimensions.iter().map(|d| (*d).to_owned()).collect(),
            attributes: Vec::new(),
            data,
        });
        self
    }

    /// Adds an attribute to the last variable.
    pub fn with(mut self, name: &str, data: impl Into<Data>) -> Self {
        let last = self.variables.last_mut().unwrap();
        last.attributes.push((name.to_owned(), data.into()));
        self
    }

    /// The variable of that name.
    pub fn of(&mut self, name: &str) -> &mut Var {
        self.variables.iter_mut().find(|v| v.name == name).unwrap()
    }

    fn length(&self, dimension: &str) -> (u32, u32) {
        let at = self.dimensions.iter().position(|d| d.0 == dimension);
        let at = at.unwrap();
        (u32::try_from(at).unwrap(), self.dimensions[at].1)
    }

    fn is_record(&self, variable: &Var) -> bool {
        let first = variable.dimensions.first();
        first.is_some_and(|d| self.length(d).1 == 0)
    }

    /// Octets of one record, or of all values, before padding.
    fn slab(&self, variable: &Var) -> usize {
        let lengths = variable.dimensions.iter().map(|d| self.length(d).1);
        let count: u32 = lengths.filter(|l| *l != 0).product();
        let size = match variable.data.code() {
            1 | 2 => 1,
            3 => 2,
            4 | 5 => 4,
            _ => 8,
        };
        count as usize * size
    }

    /// The file as CDF-1.
    pub fn bytes(&self) -> Vec<u8> {
        // Offsets have a fixed width: the header is as long with any.
        let header = self.header(&vec![0; self.variables.len()]);
        let mut begins = vec![0; self.variables.len()];
        let mut at = header.len();
        let records: Vec<bool> = self.variables.iter().map(|v| self.is_record(v)).collect();
        for wanted in [false, true] {
            for (i, variable) in self.variables.iter().enumerate() {
                if records[i] == wanted {
                    begins[i] = at;
                    at += padded(self.slab(variable));
                }
            }
        }
        let mut out = self.header(&begins);
        let all = self.variables.iter().zip(&records);
        let octets = all.map(|(v, record)| (v.data.values().concat(), self.slab(v), *record));
        let (along, fixed): (Vec<_>, Vec<_>) = octets.partition(|(_, _, record)| *record);
        for (values, _, _) in fixed {
            out.extend(values);
            pad(&mut out);
        }
        for record in 0..self.records as usize {
            for (values, slab, _) in &along {
                out.extend(&values[record * slab..(record + 1) * slab]);
                // A single record variable is not padded.
                if along.len() > 1 {
                    pad(&mut out);
                }
            }
        }
        out
    }

    fn header(&self, begins: &[usize]) -> Vec<u8> {
        let mut out = b"CDF\x01".to_vec();
        put(&mut out, self.records as usize);
        list(&mut out, 0x0A, self.dimensions.len());
        for (name, length) in &self.dimensions {
            put_name(&mut out, name);
            put(&mut out, *length as usize);
        }
        put_attributes(&mut out, &self.attributes);
        list(&mut out, 0x0B, self.variables.len());
        for (variable, begin) in self.variables.iter().zip(begins) {
            put_name(&mut out, &variable.name);
            put(&mut out, variable.dimensions.len());
            for dimension in &variable.dimensions {
                put(&mut out, self.length(dimension).0 as usize);
            }
            put_attributes(&mut out, &variable.attributes);
            put(&mut out, variable.data.code() as usize);
            put(&mut out, padded(self.slab(variable)));
            put(&mut out, *begin);
        }
        out
    }
}

fn put(out: &mut Vec<u8>, number: usize) {
    out.extend(u32::try_from(number).unwrap().to_be_bytes());
}

fn list(out: &mut Vec<u8>, tag: usize, count: usize) {
    put(out, if count == 0 { 0 } else { tag });
    put(out, count);
}

fn padded(length: usize) -> usize {
    length.next_multiple_of(4)
}

fn pad(out: &mut Vec<u8>) {
    out.resize(padded(out.len()), 0);
}

fn put_name(out: &mut Vec<u8>, name: &str) {
    put(out, name.len());
    out.extend(name.as_bytes());
    pad(out);
}

fn put_attributes(out: &mut Vec<u8>, attributes: &[(String, Data)]) {
    list(out, 0x0C, attributes.len());
    for (name, data) in attributes {
        put_name(out, name);
        put(out, data.code() as usize);
        let values = data.values();
        put(out, values.len());
        out.extend(values.concat());
        pad(out);
    }
}
