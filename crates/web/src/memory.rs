//! The gate between JavaScript and the core: text in, text out, by pointers into the module's memory.
//!
//! `keyon_alloc(n)` gives room for a request, `keyon_call(pointer, n)` takes it and gives a pointer to the answer: its
//! length as four bytes, little-endian, then its UTF-8; `keyon_free(pointer, n)` takes either back.

#![allow(unsafe_code)]

use std::cell::RefCell;

thread_local! {
    static SESSION: RefCell<crate::Session> = RefCell::new(crate::Session::default());
}

/// Room for a request of `len` bytes.
#[unsafe(no_mangle)]
pub extern "C" fn keyon_alloc(len: usize) -> *mut u8 {
    let boxed = vec![0_u8; len].into_boxed_slice();
    Box::into_raw(boxed).cast()
}

/// Gives room back.
///
/// # Safety
/// `pointer` and `len` are those of an earlier [`keyon_alloc`], or of an answer with its four bytes of length.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn keyon_free(pointer: *mut u8, len: usize) {
    // SAFETY: by this function's contract the slice is one that was given out, whole.
    drop(unsafe { Box::from_raw(std::ptr::slice_from_raw_parts_mut(pointer, len)) });
}

/// Answers a request, and takes its room back.
///
/// # Safety
/// `pointer` and `len` are those of an earlier [`keyon_alloc`].
#[unsafe(no_mangle)]
pub unsafe extern "C" fn keyon_call(pointer: *mut u8, len: usize) -> *mut u8 {
    // SAFETY: by this function's contract the slice is one that was given out, whole.
    let request = unsafe { Box::from_raw(std::ptr::slice_from_raw_parts_mut(pointer, len)) };
    let request = String::from_utf8_lossy(&request).into_owned();
    let answer = SESSION.with(|session| match session.try_borrow_mut() {
        Ok(mut session) => session.answer(&request),
        Err(_) => "{\"error\":\"busy\"}".to_owned(),
    });
    let mut out = Vec::with_capacity(answer.len() + 4);
    out.extend_from_slice(&(answer.len() as u32).to_le_bytes());
    out.extend_from_slice(answer.as_bytes());
    Box::into_raw(out.into_boxed_slice()).cast()
}
