//! How a table of settings is written: only what was changed, so that what nobody chose follows the program.

/// Makes a struct of settings write only the fields that differ from its default.
macro_rules! written_where_changed {
    ($name:ident: $($field:ident),*) => {
        /// Only what was changed: what nobody chose follows the program.
        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                use serde::ser::SerializeStruct as _;
                let usual = Self::default();
                let changed = 0 $(+ usize::from(self.$field != usual.$field))*;
                let mut fields = serializer.serialize_struct(stringify!($name), changed)?;
                $(if self.$field != usual.$field {
                    fields.serialize_field(stringify!($field), &self.$field)?;
                })*
                fields.end()
            }
        }
    };
}

pub(super) use written_where_changed;
