//! breathline for a browser: the library as WebAssembly, behind one call, and the page around it (`app/page`).
//!
//! The page passes a file's bytes and a [`choices::Choices`] as JSON, and receives an answer as JSON ([`answer`]). The
//! crate adds only this interface: the library makes every decision, word and picture.
//!
//! # The call
//!
//! The memory of WebAssembly is an array of bytes that both sides can access. The page asks [`room`] for memory, copies
//! the file and the choices there, and calls [`ask`]. It reads the answer at the place that the result names, and
//! returns all three pieces with [`release`]. This is the only `unsafe` code of the project: the compiler cannot prove
//! that a piece of memory named by two numbers is whole.

#![warn(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
#![cfg_attr(test, allow(clippy::unwrap_used))]

mod answer;
mod choices;

/// Returns `len` bytes of memory, all zero.
#[unsafe(no_mangle)]
pub extern "C" fn room(len: usize) -> *mut u8 {
    Box::into_raw(vec![0_u8; len].into_boxed_slice()).cast::<u8>()
}

/// Takes a piece of memory back.
///
/// # Safety
///
/// `at` and `len` must be a piece that [`room`] or [`ask`] returned, and the caller must not use it afterwards.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn release(at: *mut u8, len: usize) {
    // SAFETY: the caller names a boxed slice that this crate handed out, with its whole length.
    drop(unsafe { Box::from_raw(std::ptr::slice_from_raw_parts_mut(at, len)) });
}

/// Answers a question: a file's bytes, and choices as JSON. Returns the place of the answer in the upper 32 bits and
/// its length in the lower 32 bits. The answer is JSON too.
///
/// # Safety
///
/// Both pieces must be whole and hold the data described, and the caller must not write to them during the call.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn ask(
    file: *const u8,
    file_len: usize,
    choices: *const u8,
    choices_len: usize,
) -> u64 {
    // SAFETY: the caller filled both pieces, which `room` returned with at least these lengths.
    let (file, choices) = unsafe {
        (std::slice::from_raw_parts(file, file_len), std::slice::from_raw_parts(choices, choices_len))
    };
    let answer = answer::answer(file, choices).into_bytes().into_boxed_slice();
    let len = answer.len() as u64;
    let at = Box::into_raw(answer).cast::<u8>() as usize as u64;
    (at << 32) | len
}
