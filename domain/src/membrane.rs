//! What is welded, and with what kind of tool.

use crate::coded::coded_enum;

coded_enum! {
    /// The material class of a membrane.
    pub enum MaterialClass {
        /// Plasticized polyvinyl chloride.
        Pvc = "pvc",
        /// A blend of polyvinyl chloride with ketone ethylene ester.
        Kee = "kee",
        /// Thermoplastic polyolefin.
        Tpo = "tpo",
        /// Any other weldable sheet.
        Other = "other",
    }
}

impl MaterialClass {
    /// The class as the trade writes it in a sentence.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Pvc => "PVC",
            Self::Kee => "KEE",
            Self::Tpo => "TPO",
            Self::Other => "other sheet",
        }
    }
}

coded_enum! {
    /// How the tool is moved.
    pub enum WeldMethod {
        /// A self-propelled welder.
        Automatic = "automatic",
        /// A hand tool and a hand roller.
        Hand = "hand",
    }
}

coded_enum! {
    /// The condition of a sheet.
    pub enum SheetCondition {
        /// From the roll that is being laid.
        New = "new",
        /// Weathered, as in a repair.
        Aged = "aged",
    }
}

coded_enum! {
    /// Where the electricity comes from.
    pub enum SupplySource {
        /// The building's or site's mains.
        Mains = "mains",
        /// A generator.
        Generator = "generator",
    }
}

/// One of the two sheets of a seam.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Sheet {
    /// Its material class.
    pub class: MaterialClass,
    /// New or aged.
    pub condition: SheetCondition,
}

coded_enum! {
    /// Whether two material classes weld to each other.
    pub enum Compatibility {
        /// They are known to weld.
        Weldable = "weldable",
        /// They do not weld: no setting helps, and no set point is given.
        NotWeldable = "not_weldable",
        /// Nothing is known here; the membrane makers have to be asked.
        Unknown = "unknown",
    }
}

/// Whether sheets of class `a` and `b` weld to each other. Symmetric.
///
/// Chlorinated sheets (`pvc`, `kee`) weld among themselves, polyolefins (`tpo`) among themselves, and neither with the
/// other. (Common practice of the trade, no source.)
///
/// ```
/// use lapwatch_domain::membrane::{Compatibility, MaterialClass, compatible};
/// assert_eq!(compatible(MaterialClass::Kee, MaterialClass::Pvc), Compatibility::Weldable);
/// assert_eq!(compatible(MaterialClass::Tpo, MaterialClass::Pvc), Compatibility::NotWeldable);
/// ```
#[must_use]
pub const fn compatible(a: MaterialClass, b: MaterialClass) -> Compatibility {
    use MaterialClass::{Kee, Other, Pvc, Tpo};
    match (a, b) {
        (Pvc | Kee, Pvc | Kee) | (Tpo, Tpo) => Compatibility::Weldable,
        (Tpo, Pvc | Kee) | (Pvc | Kee, Tpo) => Compatibility::NotWeldable,
        (Other, _) | (_, Other) => Compatibility::Unknown,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn compatibility_is_symmetric_and_a_class_never_excludes_itself() {
        for &a in MaterialClass::ALL {
            assert_ne!(compatible(a, a), Compatibility::NotWeldable);
            for &b in MaterialClass::ALL {
                assert_eq!(compatible(a, b), compatible(b, a));
            }
        }
    }
}
