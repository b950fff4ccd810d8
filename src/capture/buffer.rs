//! A fixed number of buffers that bytes pass through: whoever reads waits until one is free, so memory does not grow.

use std::sync::Arc;

use crossbeam_channel::Receiver;
use crossbeam_channel::Sender;
use crossbeam_channel::bounded;

/// The length of a buffer.
pub const LENGTH: usize = 1 << 20;

/// Reads past the cache need memory on this border, and lengths that are multiples of it. Source: open(2), `O_DIRECT`:
/// the logical block size of the storage, 512 to 4096.
pub const BORDER: usize = 4096;

/// A stretch of a file, shared by all who take it in. The last of them gives its buffer back.
pub type Chunk = Arc<Filled>;

/// Memory on a border.
struct Buffer {
    store: Vec<u8>,
    start: usize,
}

/// A buffer with bytes in it.
pub struct Filled {
    buffer: Option<Buffer>,
    length: usize,
    back: Sender<Buffer>,
}

impl Filled {
    /// Its bytes.
    pub fn bytes(&self) -> &[u8] {
        self.buffer
            .as_ref()
            .map_or(&[], |b| &b.store[b.start..b.start + self.length])
    }

    /// All of its memory, to be filled.
    pub fn space(&mut self) -> &mut [u8] {
        match &mut self.buffer {
            Some(b) => &mut b.store[b.start..b.start + LENGTH],
            None => &mut [],
        }
    }

    /// Ready to be shared: so many bytes of it are filled.
    pub fn filled(mut self, length: usize) -> Chunk {
        self.length = length;
        Arc::new(self)
    }
}

impl Drop for Filled {
    fn drop(&mut self) {
        if let Some(buffer) = self.buffer.take() {
            // A pool that is gone needs no buffers.
            let _ = self.back.try_send(buffer);
        }
    }
}

/// The buffers that are free.
pub struct Pool {
    free: Receiver<Buffer>,
    back: Sender<Buffer>,
}

impl Pool {
    /// A pool of so many buffers.
    pub fn new(buffers: usize) -> Self {
        let (back, free) = bounded(buffers);
        for _ in 0..buffers {
            let store = vec![0; LENGTH + BORDER];
            let start = store.as_ptr().align_offset(BORDER).min(BORDER);
            let _ = back.try_send(Buffer { store, start });
        }
        Self { free, back }
    }

    /// A free buffer; waits for one.
    pub fn take(&self) -> Filled {
        Filled {
            // The pool holds a sender itself: the channel is never closed.
            buffer: self.free.recv().ok(),
            length: 0,
            back: self.back.clone(),
        }
    }
}
