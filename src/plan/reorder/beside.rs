//! Two things at once: the bound is worked out on a thread of its own, while the search goes on.
//!
//! Neither sees anything of the other before both are done, and each ends after as many steps as it would alone: what comes of them
//! does not depend on which is faster. The clock is asked by the search alone; where that has ended and waits, the other wakes it
//! whenever it wants to know.

use super::search::Search;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, Builder, Thread};

/// As much as the main thread has as a rule.
const STACK_BYTES: usize = 8 << 20;

/// Does `there` on another thread while `here` is done, and returns what comes of both. Where no other thread is to be had, or the purchase
/// is too small for one to pay, one comes after the other. What `there` is given asks whether the clock has ended everything.
pub(super) fn beside<'a, 'p, There: Send, Here>(
    search: &mut Search<'a, 'p>,
    there: impl Fn(&mut dyn FnMut() -> bool) -> There + Sync,
    here: impl FnOnce(&mut Search<'a, 'p>) -> Here,
) -> (There, Here) {
    if search.is_for_little() {
        return (there(&mut || search.is_stopped()), here(search));
    }
    let (is_over, is_done) = (AtomicBool::new(false), AtomicBool::new(false));
    let caller = thread::current();
    let work = || {
        let _told = Told { is_done: &is_done, caller: &caller };
        there(&mut || {
            caller.unpark();
            is_over.load(Ordering::SeqCst)
        })
    };
    thread::scope(|scope| {
        let other = Builder::new().stack_size(STACK_BYTES).spawn_scoped(scope, work);
        let came = here(search);
        let Ok(other) = other else { return (there(&mut || search.is_stopped()), came) };
        while !is_done.load(Ordering::SeqCst) {
            is_over.store(search.is_stopped(), Ordering::SeqCst);
            thread::park();
        }
        (other.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)), came)
    })
}

/// Tells that the other thread is done, also where it gave up.
struct Told<'a> {
    is_done: &'a AtomicBool,
    caller: &'a Thread,
}

impl Drop for Told<'_> {
    fn drop(&mut self) {
        self.is_done.store(true, Ordering::SeqCst);
        self.caller.unpark();
    }
}
