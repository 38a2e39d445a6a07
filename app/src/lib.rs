//! breathline for a browser: the library as WebAssembly behind a single call, and the page around it (`app/page`).
//!
//! The page passes a file's bytes and a [`choices::Choices`] as JSON, and gets an answer as JSON ([`answer`]). The
//! crate adds only this interface and the words of a few errors: the library makes every decision and picture, and all
//! other words.
//!
//! # The call
//!
//! The memory of WebAssembly is an array of bytes that both sides can access. The page asks [`room`] for memory, copies
//! the file and the choices into it, and calls [`ask`]. It reads the answer at the returned address, and frees all
//! three pieces with [`release`]. The `unsafe` code is here because the compiler cannot check that an address and a
//! length describe a valid piece of memory.

#![warn(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
#![cfg_attr(test, allow(clippy::unwrap_used))]

mod answer;
mod choices;

/// Returns the address of `len` bytes of zeroed memory.
#[unsafe(no_mangle)]
pub extern "C" fn room(len: usize) -> *mut u8 {
    Box::into_raw(vec![0_u8; len].into_boxed_slice()).cast::<u8>()
}

/// Frees a piece of memory.
///
/// # Safety
///
/// `at` and `len` must be a piece that [`room`] or [`ask`] returned, and the caller must not use it afterwards.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn release(at: *mut u8, len: usize) {
    // SAFETY: the caller passes a boxed slice that this crate returned, with its full length.
    drop(unsafe { Box::from_raw(std::ptr::slice_from_raw_parts_mut(at, len)) });
}

/// Answers a question, given a file's bytes and the choices as JSON. Returns the address of the answer in the upper 32
/// bits and its length in the lower 32 bits; the answer is JSON.
///
/// # Safety
///
/// Both pieces must be valid and initialised, and nobody may write to them during the call.
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
