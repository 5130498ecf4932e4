//! Tables as Parquet files, written piece by piece.

use arrow_array::RecordBatch;
use arrow_schema::SchemaRef;
use parquet::arrow::ArrowWriter;
use parquet::basic::Compression;
use parquet::errors::ParquetError;
use parquet::file::properties::WriterProperties;

/// Rows of a row group, the piece that a reader takes at a time.
const GROUP_ROWS: usize = 1 << 17;

/// A Parquet file in the making: each call gives the bytes that are ready.
#[derive(Debug)]
pub struct Writer(ArrowWriter<Vec<u8>>);

impl Writer {
    /// A file of this schema, with the metadata of the table.
    ///
    /// # Errors
    /// A type that Parquet does not have; the tables have none.
    pub fn new(schema: SchemaRef) -> Result<Self, ParquetError> {
        let properties = WriterProperties::builder()
            .set_compression(Compression::SNAPPY)
            .set_max_row_group_row_count(Some(GROUP_ROWS))
            .set_created_by(concat!("fivefig ", env!("CARGO_PKG_VERSION")).to_owned())
            .build();
        ArrowWriter::try_new(Vec::new(), schema, Some(properties)).map(Self)
    }

    /// Adds rows.
    ///
    /// # Errors
    /// Rows of another schema.
    pub fn write(&mut self, rows: &RecordBatch) -> Result<Vec<u8>, ParquetError> {
        self.0.write(rows)?;
        Ok(std::mem::take(self.0.inner_mut()))
    }

    /// The end of the file.
    ///
    /// # Errors
    /// As for the rows.
    pub fn finish(self) -> Result<Vec<u8>, ParquetError> {
        self.0.into_inner()
    }
}

/// A whole file of one batch.
///
/// # Errors
/// As for [`Writer`].
pub fn file(rows: &RecordBatch) -> Result<Vec<u8>, ParquetError> {
    let mut writer = Writer::new(rows.schema())?;
    let mut out = writer.write(rows)?;
    out.extend(writer.finish()?);
    Ok(out)
}
