//! Tables of settings: a struct with a field for each, and a line for each that says what a form, a file and a proof need to
//! know. A file holds only what was changed: what nobody chose follows the program, and a file opens whatever was added since.

/// Makes the struct of settings with its defaults and its form in a file, and `TABLE` of its lines, in the order in which they
/// are offered. A line is written with all its facts but its key, which is the name of the field.
macro_rules! settings_table {
    (
        $(#[$of_all:meta])* $Settings:ident, $Line:ident;
        $($(#[$doc:meta])* $field:ident: $Type:ty = $usual:expr, { $($facts:tt)* })*
    ) => {
        $(#[$of_all])*
        #[derive(serde::Deserialize)]
        #[serde(default, deny_unknown_fields)]
        pub struct $Settings {
            $($(#[$doc])* pub $field: $Type,)*
        }

        impl Default for $Settings {
            fn default() -> Self {
                Self { $($field: $usual,)* }
            }
        }

        /// Only what was changed: what nobody chose follows the program.
        impl serde::Serialize for $Settings {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                use serde::ser::SerializeStruct as _;
                let usual = Self::default();
                let changed = 0 $(+ usize::from(self.$field != usual.$field))*;
                let mut fields = serializer.serialize_struct(stringify!($Settings), changed)?;
                $(if self.$field != usual.$field {
                    fields.serialize_field(stringify!($field), &self.$field)?;
                })*
                fields.end()
            }
        }

        /// All of them, in the order they are offered.
        pub static TABLE: [$Line; [$(stringify!($field)),*].len()] =
            [$($Line { key: stringify!($field), $($facts)* }),*];
    };
}

pub(super) use settings_table;
