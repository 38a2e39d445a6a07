//! breathline for a browser: the library as WebAssembly, behind one call, and the page around it (`app/page`).
//!
//! The page hands over a file's bytes and a [`choices::Choices`] as JSON, and gets an answer as JSON ([`answer`]). The crate
//! adds nothing to the library but this form: every decision, word and picture is the library's own.
//!
//! # The call
//!
//! Memory of WebAssembly is a row of bytes that both sides can see. The page asks [`room`] for room, copies the file and the
//! choices there, and calls [`ask`]; it reads the answer where the result says, and gives all three pieces back with [`release`].
//! This is the only `unsafe` code of the project: the compiler cannot see that a piece of memory named by two numbers is whole.

#![warn(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
#![cfg_attr(test, allow(clippy::unwrap_used))]

mod answer;
mod choices;

/// Returns room for `len` bytes, which are zero.
#[unsafe(no_mangle)]
pub extern "C" fn room(len: usize) -> *mut u8 {
    Box::into_raw(vec![0_u8; len].into_boxed_slice()).cast::<u8>()
}

/// Gives a piece of memory back.
///
/// # Safety
///
/// `at` and `len` are a piece that [`room`] or [`ask`] returned, and nobody uses it afterwards.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn release(at: *mut u8, len: usize) {
    // SAFETY: the caller names a boxed slice that this crate gave away, with its whole length.
    drop(unsafe { Box::from_raw(std::ptr::slice_from_raw_parts_mut(at, len)) });
}

/// Answers a question: a file's bytes, and choices as JSON. Returns the place of the answer in the upper 32 bits and its length
/// in the lower ones; it is JSON as well.
///
/// # Safety
///
/// Both pieces are whole, hold what is said, and nobody writes to them meanwhile.
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
