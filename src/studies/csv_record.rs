//! A record of comma-separated values.

/// Adds a record after RFC 4180. A spreadsheet takes a cell that begins with `=`, `+`, `-` or `@` for a formula: what is no
/// number gets an apostrophe before it.
pub(super) fn record(out: &mut String, fields: &[impl AsRef<str>]) {
    let quoted: Vec<String> = fields
        .iter()
        .map(|field| {
            let field = field.as_ref();
            let number = field.parse::<f64>().is_ok();
            let guarded = !number && field.starts_with(['=', '+', '-', '@']);
            let field = if guarded { format!("'{field}") } else { field.to_owned() };
            if field.contains([',', '"', '\n', '\r']) {
                format!("\"{}\"", field.replace('"', "\"\""))
            } else {
                field
            }
        })
        .collect();
    out.push_str(&quoted.join(","));
    out.push_str("\r\n");
}
