//! Fast maps for names. Their order never reaches an output: whoever lists sorts.

use std::{
    collections::{HashMap, HashSet},
    hash::{BuildHasherDefault, Hasher},
};

/// A map with a fast, fixed hash (names come from the person's own files, there is nobody to defend against).
pub type Map<K, V> = HashMap<K, V, BuildHasherDefault<Mix>>;
/// A set with the same hash.
pub type Set<K> = HashSet<K, BuildHasherDefault<Mix>>;

/// Multiply and rotate, eight bytes at a time, with a final mix so that the low bits depend on all.
#[derive(Clone, Copy, Debug, Default)]
pub struct Mix(u64);

const FACTOR: u64 = 0x9e37_79b9_7f4a_7c15;

impl Mix {
    fn add(&mut self, word: u64) {
        self.0 = (self.0.rotate_left(23) ^ word).wrapping_mul(FACTOR);
    }
}

impl Hasher for Mix {
    fn write(&mut self, bytes: &[u8]) {
        let mut chunks = bytes.chunks_exact(8);
        for chunk in &mut chunks {
            let mut word = [0; 8];
            word.copy_from_slice(chunk);
            self.add(u64::from_le_bytes(word));
        }
        let rest = chunks.remainder();
        if !rest.is_empty() {
            let mut word = [0; 8];
            word[..rest.len()].copy_from_slice(rest);
            self.add(u64::from_le_bytes(word) ^ ((rest.len() as u64) << 56));
        }
    }
    fn write_u8(&mut self, byte: u8) {
        self.add(u64::from(byte));
    }
    fn write_u32(&mut self, word: u32) {
        self.add(u64::from(word));
    }
    fn write_u64(&mut self, word: u64) {
        self.add(word);
    }
    fn write_usize(&mut self, word: usize) {
        self.add(word as u64);
    }
    fn finish(&self) -> u64 {
        let mut hash = self.0;
        hash ^= hash >> 32;
        hash = hash.wrapping_mul(FACTOR);
        hash ^ (hash >> 29)
    }
}
