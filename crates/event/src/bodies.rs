//! What the table of kinds is made into: the struct of each kind, `Body` over all of them, and their descriptions.

use super::choice::{
    Adjusted, BucketsTo, CaughtLiquid, CheckedIn, JarResult, RunEnding, Sampled, StepAnswer,
};

/// Makes structs, `Body` and `KINDS` of the table that follows; what it names must be in scope there.
macro_rules! bodies {
    ($($(#[doc = $doc:literal])* $variant:ident = $kind:literal {
        $($(#[doc = $fdoc:literal])* $field:ident : $ty:ty as $spec:expr),* $(,)?
    } $(+ typed { $($(#[doc = $tdoc:literal])* $typed:ident as $tspec:expr),* $(,)? })?)*) => {
        /// What happened. Volumes are stated at `temp_c`, or at 60 °F where that is absent.
        #[derive(Debug, Clone, PartialEq)]
        #[allow(missing_docs, reason = "the fields are documented on the structs of the same names")]
        pub enum Body { $($(#[doc = $doc])* $variant($variant)),* }

        $(
            $(#[doc = $doc])*
            #[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
            #[serde(deny_unknown_fields)]
            pub struct $variant { $(
                $(#[doc = $fdoc])*
                #[serde(skip_serializing_if = "Slot::is_absent")]
                pub $field: $ty
            ),* }
        )*

        /// Every kind with its fields, for entry, help, forms and docs.
        pub static KINDS: &[Kind] = &[$(Kind {
            name: $kind,
            meaning: concat!($($doc),*),
            fields: &[$(Field {
                name: stringify!($field),
                meaning: concat!($($fdoc),*),
                is_needed: <$ty as Slot>::IS_NEEDED,
                spec: $spec,
            }),*],
            helpers: &[$($(Field {
                name: stringify!($typed),
                meaning: concat!($($tdoc),*),
                is_needed: false,
                spec: $tspec,
            }),*)?],
        }),*];

        impl Body {
            /// The kind, as written in the ledger and in commands.
            pub fn kind(&self) -> &'static str {
                match self { $(Body::$variant(_) => $kind),* }
            }

            /// The body as the ledger keeps it.
            ///
            /// # Errors
            /// When a number is not finite.
            pub fn to_json(&self) -> Result<String, serde_json::Error> {
                match self { $(Body::$variant(body) => serde_json::to_string(body)),* }
            }

            /// Reads a body of a kind and version.
            ///
            /// # Errors
            /// [`BodyError`] when the kind or version is unknown, or the text is not such a body.
            pub fn from_json(kind: &str, version: u32, text: &str) -> Result<Self, BodyError> {
                if version == 0 || EVENT_VERSION < version {
                    return Err(BodyError::Version { version });
                }
                match kind {
                    $($kind => serde_json::from_str(text).map(Body::$variant).map_err(|e| BodyError::Text {
                        kind: $kind, reason: e.to_string(),
                    }),)*
                    other => Err(BodyError::Kind { kind: other.to_string() }),
                }
            }
        }
    };
}
pub(super) use bodies;

/// The type of a field: whether it must be given, and is left out of the ledger's text because nothing was said.
pub(super) trait Slot {
    const IS_NEEDED: bool = true;
    fn is_absent(&self) -> bool {
        false
    }
}
impl<T> Slot for Option<T> {
    const IS_NEEDED: bool = false;
    fn is_absent(&self) -> bool {
        self.is_none()
    }
}
impl Slot for String {}
impl Slot for f64 {}
impl Slot for Adjusted {}
impl Slot for BucketsTo {}
impl Slot for CaughtLiquid {}
impl Slot for CheckedIn {}
impl Slot for JarResult {}
impl Slot for RunEnding {}
impl Slot for Sampled {}
impl Slot for StepAnswer {}
