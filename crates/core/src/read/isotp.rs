//! ISO-TP: payloads put together from the frames of one sender.
//!
//! Source: ISO 15765-2 (single, first and consecutive frames; flow control carries no payload).

use std::collections::BTreeMap;

/// Longest payload of a classic frame sequence.
const MOST: usize = 4095;

/// What came of one frame.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Step {
    /// A whole payload.
    Payload(Vec<u8>),
    /// Part of one, or nothing to keep.
    Nothing,
    /// A frame that does not belong where it stands.
    Broken(&'static str),
}

/// Payloads in the making, by sender.
#[derive(Debug, Clone, Default)]
pub(crate) struct Assembler {
    open: BTreeMap<(String, u32), Open>,
}

#[derive(Debug, Clone)]
struct Open {
    length: usize,
    data: Vec<u8>,
    next: u8,
}

impl Assembler {
    /// Takes the data bytes of one frame.
    pub(crate) fn take(&mut self, bus: &str, id: u32, data: &[u8]) -> Step {
        let Some(first) = data.first() else { return Step::Nothing };
        match first >> 4 {
            0 => single(data),
            1 => self.first(bus, id, data),
            2 => self.consecutive(bus, id, data),
            3 => Step::Nothing,
            _ => Step::Broken("a frame type that ISO-TP does not have"),
        }
    }

    fn first(&mut self, bus: &str, id: u32, data: &[u8]) -> Step {
        let Some(low) = data.get(1) else { return Step::Broken("a cut first frame") };
        let length = usize::from(data[0] & 0x0f) << 8 | usize::from(*low);
        if !(8..=MOST).contains(&length) {
            return Step::Broken("a first frame with an impossible length");
        }
        if self.open.len() > 64 {
            self.open.clear();
        }
        let open = Open { length, data: data[2..].to_vec(), next: 1 };
        self.open.insert((bus.to_owned(), id), open);
        Step::Nothing
    }

    fn consecutive(&mut self, bus: &str, id: u32, data: &[u8]) -> Step {
        let key = (bus.to_owned(), id);
        let Some(open) = self.open.get_mut(&key) else {
            return Step::Broken("a consecutive frame without a first one");
        };
        if open.next != data[0] & 0x0f {
            self.open.remove(&key);
            return Step::Broken("a consecutive frame out of turn");
        }
        open.next = (open.next + 1) & 0x0f;
        open.data.extend_from_slice(&data[1..]);
        if open.data.len() < open.length {
            return Step::Nothing;
        }
        match self.open.remove(&key) {
            Some(mut whole) => {
                whole.data.truncate(whole.length);
                Step::Payload(whole.data)
            }
            None => Step::Nothing,
        }
    }
}

fn single(data: &[u8]) -> Step {
    // Long frames (CAN FD) put the length into the second byte.
    let (length, start) = match data[0] & 0x0f {
        0 if data.len() > 8 => (usize::from(data[1]), 2),
        length => (usize::from(length), 1),
    };
    match data.get(start..start + length) {
        Some([]) => Step::Nothing,
        Some(payload) => Step::Payload(payload.to_vec()),
        None => Step::Broken("a single frame shorter than it says"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_payload_of_two_frames_is_put_together() {
        // ISO 15765-2: first frame `1 00C` with six bytes, consecutive frame `21` with the other six.
        let mut assembler = Assembler::default();
        let first = [0x10, 0x0c, 0x41, 0x0c, 0x1a, 0xf8, 0x0b, 0x23];
        assert_eq!(assembler.take("can0", 0x7e8, &first), Step::Nothing);
        assert_eq!(assembler.take("can0", 0x7e0, &[0x30, 0, 0, 0, 0, 0, 0, 0]), Step::Nothing);
        let next = [0x21, 0x05, 0x7b, 0x33, 0x64, 0x11, 0x2b, 0xaa];
        let want = vec![0x41, 0x0c, 0x1a, 0xf8, 0x0b, 0x23, 0x05, 0x7b, 0x33, 0x64, 0x11, 0x2b];
        assert_eq!(assembler.take("can0", 0x7e8, &next), Step::Payload(want));
    }

    #[test]
    fn what_does_not_belong_is_said() {
        let mut assembler = Assembler::default();
        assert!(matches!(assembler.take("can0", 0x7e8, &[0x21, 1, 2]), Step::Broken(_)));
        assert!(matches!(assembler.take("can0", 0x7e8, &[0x07, 1, 2]), Step::Broken(_)));
        assert_eq!(assembler.take("can0", 0x7e8, &[]), Step::Nothing);
    }
}
