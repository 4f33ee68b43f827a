//! Finding the items of an envelope in a stream of bytes, without reading them: what stands in an item is nobody's
//! business before its bytes are safe.

use thiserror::Error;

/// How the items of an envelope are written one after the other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Framing {
    /// A JSON array.
    Array,
    /// A JSON value a line (NDJSON).
    Lines,
}

/// One place of an envelope.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Piece {
    /// An item: from the first to the last octet of its JSON value.
    Item(Vec<u8>),
    /// An item past the limit of one item. Nothing of it was kept.
    TooLarge {
        /// How many bytes it has.
        bytes: u64,
    },
}

impl Piece {
    /// The bytes of an item that was kept.
    pub fn bytes(&self) -> Option<&[u8]> {
        match self {
            Self::Item(bytes) => Some(bytes),
            Self::TooLarge { .. } => None,
        }
    }
}

/// Why no further items can be found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum Broken {
    /// Something else stands where the array should begin.
    #[error("a JSON array was expected to begin at byte {at}")]
    NoArray {
        /// Where, counted from 0.
        at: u64,
    },
    /// Nothing stands between two commas, or between one and the end.
    #[error("an item is missing at byte {at}")]
    NoItem {
        /// Where.
        at: u64,
    },
    /// Something stands behind the array.
    #[error("the array has ended before byte {at}, but something follows")]
    Beyond {
        /// Where.
        at: u64,
    },
    /// The envelope ends inside the array.
    #[error("the array is not closed at the end, byte {at}")]
    Unclosed {
        /// Where.
        at: u64,
    },
}

/// Where a splitter stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Place {
    /// Before the array.
    Before,
    /// Where an item begins; `first` directly behind the opening bracket, where the array may end instead.
    Between { first: bool },
    /// Inside an item: how many brackets are open, and whether in a string and behind a backslash.
    Inside { depth: u64, text: bool, escaped: bool },
    /// Behind the array.
    Behind,
}

/// Cuts a stream of bytes into the items of an envelope. It holds one item at most, and no more of that than the limit.
///
/// In an array an item ends at the comma or bracket that closes it, strings and brackets of its own left aside; so one
/// that is not JSON, but whose brackets and quotes are closed, costs only itself.
#[derive(Debug)]
pub struct Splitter {
    framing: Framing,
    limit: usize,
    place: Place,
    /// Bytes seen before the present ones.
    seen: u64,
    held: Vec<u8>,
    /// Bytes of the item that is being read, white space at its end included.
    length: u64,
    /// White space at its end so far.
    trailing: u64,
}

impl Splitter {
    /// A splitter for items of at most `limit` bytes.
    pub fn new(framing: Framing, limit: usize) -> Self {
        let place = match framing {
            Framing::Array => Place::Before,
            Framing::Lines => Place::Between { first: true },
        };
        Self { framing, limit, place, seen: 0, held: Vec::new(), length: 0, trailing: 0 }
    }

    /// Takes the next bytes and hands on every item that ends in them.
    ///
    /// # Errors
    /// [`Broken`] where no further item can be found; the items before have been handed on.
    pub fn take(&mut self, bytes: &[u8], pieces: &mut Vec<Piece>) -> Result<(), Broken> {
        for byte in bytes {
            match self.framing {
                Framing::Array => self.in_array(*byte, pieces)?,
                Framing::Lines => self.in_lines(*byte, pieces),
            }
            self.seen += 1;
        }
        Ok(())
    }

    /// The end of the stream.
    ///
    /// # Errors
    /// [`Broken::Unclosed`] or [`Broken::NoArray`] for an array without its end.
    pub fn end(&mut self, pieces: &mut Vec<Piece>) -> Result<(), Broken> {
        match (self.framing, self.place) {
            (Framing::Lines, _) => {
                self.close(pieces);
                Ok(())
            }
            (Framing::Array, Place::Behind) => Ok(()),
            (Framing::Array, Place::Before) => Err(Broken::NoArray { at: self.seen }),
            (Framing::Array, _) => Err(Broken::Unclosed { at: self.seen }),
        }
    }

    fn in_lines(&mut self, byte: u8, pieces: &mut Vec<Piece>) {
        if byte == b'\n' {
            self.close(pieces);
        } else {
            self.keep(byte);
        }
    }

    fn in_array(&mut self, byte: u8, pieces: &mut Vec<Piece>) -> Result<(), Broken> {
        let at = self.seen;
        match self.place {
            Place::Before | Place::Between { .. } | Place::Behind if is_space(byte) => {}
            Place::Before if byte == b'[' => self.place = Place::Between { first: true },
            Place::Before => return Err(Broken::NoArray { at }),
            Place::Behind => return Err(Broken::Beyond { at }),
            Place::Between { first: true } if byte == b']' => self.place = Place::Behind,
            Place::Between { .. } if byte == b',' || byte == b']' => return Err(Broken::NoItem { at }),
            Place::Between { .. } => self.inside(byte, (0, false, false)),
            Place::Inside { depth: 0, text: false, .. } if byte == b',' => {
                self.close(pieces);
                self.place = Place::Between { first: false };
            }
            Place::Inside { depth: 0, text: false, .. } if byte == b']' => {
                self.close(pieces);
                self.place = Place::Behind;
            }
            Place::Inside { depth, text, escaped } => self.inside(byte, (depth, text, escaped)),
        }
        Ok(())
    }

    fn inside(&mut self, byte: u8, (depth, text, escaped): (u64, bool, bool)) {
        let (depth, text, escaped) = match (text, byte) {
            (true, b'"') => (depth, escaped, false),
            (true, b'\\') => (depth, true, !escaped),
            (true, _) => (depth, true, false),
            (false, b'"') => (depth, true, false),
            (false, b'{' | b'[') => (depth + 1, false, false),
            (false, b'}' | b']') => (depth.saturating_sub(1), false, false),
            (false, _) => (depth, false, false),
        };
        self.place = Place::Inside { depth, text, escaped };
        self.keep(byte);
    }

    /// A byte of an item; white space before it is no part of it.
    fn keep(&mut self, byte: u8) {
        if self.length == 0 && is_space(byte) {
            return;
        }
        self.length += 1;
        self.trailing = if is_space(byte) { self.trailing + 1 } else { 0 };
        // White space that may yet turn out to be trailing is held as far as there is room.
        if self.held.len() < self.limit {
            self.held.push(byte);
        }
    }

    /// The end of an item. A line without one is no item.
    fn close(&mut self, pieces: &mut Vec<Piece>) {
        let bytes = self.length - self.trailing;
        if bytes > 0 {
            let fits = usize::try_from(bytes).ok().filter(|bytes| *bytes <= self.limit);
            pieces.push(match fits {
                Some(bytes) => {
                    let mut item = std::mem::take(&mut self.held);
                    item.truncate(bytes);
                    Piece::Item(item)
                }
                None => Piece::TooLarge { bytes },
            });
        }
        self.held = Vec::new();
        (self.length, self.trailing) = (0, 0);
    }
}

/// White space of JSON (RFC 8259 section 2).
const fn is_space(byte: u8) -> bool {
    matches!(byte, b' ' | b'\t' | b'\n' | b'\r')
}

#[cfg(test)]
mod tests {
    use super::*;

    const LIMIT: usize = 24;

    /// The items when the bytes come in parts of this size.
    fn split(framing: Framing, bytes: &[u8], part: usize) -> (Vec<Piece>, Result<(), Broken>) {
        let mut splitter = Splitter::new(framing, LIMIT);
        let mut pieces = Vec::new();
        let taken = bytes.chunks(part).try_for_each(|part| splitter.take(part, &mut pieces));
        let end = taken.and_then(|()| splitter.end(&mut pieces));
        (pieces, end)
    }

    fn items(texts: &[&str]) -> Vec<Piece> {
        texts.iter().map(|text| Piece::Item(text.as_bytes().to_vec())).collect()
    }

    #[test]
    fn items_are_found_however_the_bytes_arrive() {
        let array = "  [ {\"a\":[1,2]} ,\r\n{\"b\":\"x]\\\",}\"}\t, 5,\"\\\\\" , nonsense } ] \n";
        let found = [r#"{"a":[1,2]}"#, r#"{"b":"x]\",}"}"#, "5", r#""\\""#, "nonsense }"];
        let lines = " {\"a\":1}\r\n\n\t\n{broken \n[\"no end\" ";
        for part in 1..array.len() {
            assert_eq!(split(Framing::Array, array.as_bytes(), part), (items(&found), Ok(())), "{part}");
            let (pieces, end) = split(Framing::Lines, lines.as_bytes(), part);
            assert_eq!((pieces, end), (items(&["{\"a\":1}", "{broken", "[\"no end\""]), Ok(())), "{part}");
        }
        for empty in ["[]", " [ \n ] "] {
            assert_eq!(split(Framing::Array, empty.as_bytes(), 3), (Vec::new(), Ok(())));
        }
        assert_eq!(split(Framing::Lines, b"", 3), (Vec::new(), Ok(())));
    }

    #[test]
    fn an_item_past_the_limit_costs_only_itself() {
        let long = format!("{{\"a\":\"{}\"}}", "x".repeat(40));
        let just = format!("\"{}\"", "x".repeat(LIMIT - 2));
        let spaced = format!("{just}{}", " ".repeat(60));
        for part in [1, 7, 1000] {
            let array = format!("[1,{long},{spaced},2]");
            let (pieces, end) = split(Framing::Array, array.as_bytes(), part);
            let large = Piece::TooLarge { bytes: long.len() as u64 };
            let expected = [items(&["1"]), vec![large], items(&[&just, "2"])].concat();
            assert_eq!((&pieces, end), (&expected, Ok(())));
            let lines = format!("1\n{long}\n{spaced}\n2");
            assert_eq!(split(Framing::Lines, lines.as_bytes(), part).0, expected);
        }
    }

    #[test]
    fn where_an_array_breaks_is_said() {
        let cases = [
            ("", 0, Broken::NoArray { at: 0 }),
            ("{\"a\":1}", 0, Broken::NoArray { at: 0 }),
            ("[1,,2]", 1, Broken::NoItem { at: 3 }),
            ("[1,]", 1, Broken::NoItem { at: 3 }),
            ("[,1]", 0, Broken::NoItem { at: 1 }),
            ("[1] 2", 1, Broken::Beyond { at: 4 }),
            ("[1,2", 1, Broken::Unclosed { at: 4 }),
            ("[1,{\"a\":[}", 1, Broken::Unclosed { at: 10 }),
            ("[\"no end]", 0, Broken::Unclosed { at: 9 }),
        ];
        for (text, before, broken) in cases {
            let (pieces, end) = split(Framing::Array, text.as_bytes(), 2);
            assert_eq!((pieces.len(), end), (before, Err(broken)), "{text}");
        }
    }
}
