//! Enums that have a stable text code, used alike by the wire format and by SQL.
//!
//! The code is part of the contract: a variant may be renamed in Rust, its code never.

/// An enum whose every variant has a stable, lower-case text code.
///
/// The methods exist as inherent methods of each such enum too, so that this trait need only be imported by generic
/// code.
pub trait Coded: Copy + 'static {
    /// Every variant, in the order of declaration.
    const ALL: &'static [Self];

    /// The stable code of this variant.
    fn code(self) -> &'static str;

    /// The variant with this code, if there is one. Codes are compared exactly.
    fn from_code(code: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|variant| variant.code() == code)
    }
}

/// Declares an enum together with its codes.
#[macro_export]
macro_rules! coded_enum {
    (
        $(#[$about:meta])*
        $visibility:vis enum $name:ident {
            $( $(#[$about_variant:meta])* $variant:ident = $code:literal ),+ $(,)?
        }
    ) => {
        $(#[$about])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        $visibility enum $name {
            $( $(#[$about_variant])* $variant ),+
        }

        impl $name {
            /// Every variant, in the order of declaration.
            $visibility const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// The stable code of this variant, as it stands on the wire and in the database.
            #[must_use]
            $visibility const fn code(self) -> &'static str {
                match self {
                    $(Self::$variant => $code),+
                }
            }

            /// The variant with exactly this code, or `None`.
            #[must_use]
            $visibility fn from_code(code: &str) -> Option<Self> {
                match code {
                    $($code => Some(Self::$variant),)+
                    _ => None,
                }
            }
        }

        impl $crate::coded::Coded for $name {
            const ALL: &'static [Self] = Self::ALL;

            fn code(self) -> &'static str {
                Self::code(self)
            }
        }

        impl ::std::fmt::Display for $name {
            fn fmt(&self, f: &mut ::std::fmt::Formatter<'_>) -> ::std::fmt::Result {
                f.write_str(self.code())
            }
        }
    };
}

pub use coded_enum;

#[cfg(test)]
mod tests {
    use super::Coded;

    coded_enum! {
        /// Two variants are enough here.
        enum Side {
            /// Left.
            Left = "left",
            /// Right.
            Right = "right",
        }
    }

    #[test]
    fn codes_lead_back_to_their_variant() {
        for &side in Side::ALL {
            assert_eq!(Side::from_code(side.code()), Some(side));
            assert_eq!(<Side as Coded>::from_code(side.code()), Some(side));
            assert_eq!(side.to_string(), side.code());
        }
        assert_eq!(Side::from_code("Left"), None);
    }
}
