//! Reading a cord's size from what is printed on it.

use super::CordSize;

impl CordSize {
    /// The size that a marking names: `12 AWG`, `AWG 12`, `12 ga`, `12/3 AWG`, `12/3` (gauge and number of
    /// conductors, as American cords are marked), `2.5 mm²`, `2,5 mm2`, `3G2.5`, `3 x 2.5 mm²`; other words may stand
    /// beside it, as in `H07RN-F 3G2.5`. (Common practice, no source.)
    ///
    /// `None` when it names none of the listed sizes, or when it cannot be told which: a bare `6` may be either.
    ///
    /// ```
    /// use lapwatch_domain::supply::CordSize;
    /// assert_eq!(CordSize::from_marking("3G2,5"), Some(CordSize::SquareMm2_5));
    /// assert_eq!(CordSize::from_marking("12/3"), Some(CordSize::Awg12));
    /// assert_eq!(CordSize::from_marking("6"), None);
    /// ```
    #[must_use]
    pub fn from_marking(marking: &str) -> Option<Self> {
        let text: String = marking
            .to_lowercase()
            .chars()
            .map(|letter| match letter {
                ',' => '.',
                '²' => '2',
                '×' => 'x',
                other => other,
            })
            .collect();
        let joined: String = text.split_whitespace().collect();
        // Beside the size stands the kind of cord: then one of the words has to name the size, and no other another.
        size_of(&joined).or_else(|| {
            let mut sizes = text.split_whitespace().filter_map(size_of);
            sizes.next().filter(|&first| sizes.all(|other| other == first))
        })
    }
}

/// The size that a text without blanks names.
fn size_of(text: &str) -> Option<CordSize> {
    if let Some(gauge) = without(text, &["awg", "gauge", "ga"]) {
        return of_gauge(gauge.split_once('/').map_or(gauge, |(gauge, _)| gauge));
    }
    if let Some(section) = without(text, &["mm2", "mm^2"]) {
        return of_section(after_conductors(section).unwrap_or(section));
    }
    match text.split_once('/') {
        Some((gauge, conductors)) if is_count(conductors) => of_gauge(gauge),
        _ => of_section(after_conductors(text)?),
    }
}

/// The text without whichever of the words it begins or ends with.
fn without<'a>(text: &'a str, words: &[&str]) -> Option<&'a str> {
    words.iter().find_map(|word| text.strip_suffix(word).or_else(|| text.strip_prefix(word)))
}

/// What follows the number of conductors in `3g2.5` or `3x2.5`.
fn after_conductors(text: &str) -> Option<&str> {
    let (conductors, section) = text.split_once(['g', 'x'])?;
    is_count(conductors).then_some(section)
}

fn is_count(text: &str) -> bool {
    text.len() == 1 && text.chars().all(|letter| letter.is_ascii_digit())
}

fn of_gauge(text: &str) -> Option<CordSize> {
    match text {
        "16" => Some(CordSize::Awg16),
        "14" => Some(CordSize::Awg14),
        "12" => Some(CordSize::Awg12),
        "10" => Some(CordSize::Awg10),
        "8" => Some(CordSize::Awg8),
        "6" => Some(CordSize::Awg6),
        _ => None,
    }
}

fn of_section(text: &str) -> Option<CordSize> {
    match text {
        "1.5" => Some(CordSize::SquareMm1_5),
        "2.5" => Some(CordSize::SquareMm2_5),
        "4" | "4.0" => Some(CordSize::SquareMm4),
        "6" | "6.0" => Some(CordSize::SquareMm6),
        "10" | "10.0" => Some(CordSize::SquareMm10),
        _ => None,
    }
}
