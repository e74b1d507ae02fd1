//! A disk under the tests' hands: it records what the book writes, and fails when it is told to.
//!
//! SQLite reaches files through a VFS. This one stands before the one of the system as the default, so that the program
//! opens its book as always, with its own settings; files outside the watched folders go straight to the system.

use rusqlite::ffi;
use std::ffi::{CStr, CString, OsStr, c_char, c_int, c_void};
use std::os::unix::ffi::OsStrExt;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};

/// Something that happened on the disk, in the order in which it happened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Event {
    /// A file was opened; `new` when it was not there before.
    Open { name: String, new: bool },
    /// Bytes were written.
    Write { name: String, at: usize, bytes: Vec<u8> },
    /// A file was cut or made longer.
    Truncate { name: String, size: usize },
    /// Everything written to a file so far is safe.
    Sync { name: String },
    /// A file was removed; `safe` when the folder was synced after it.
    Delete { name: String, safe: bool },
}

/// A call that can fail.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Call {
    Open,
    Read,
    Write,
    Truncate,
    Sync,
}

/// What the disk answers from a call on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Failure {
    /// The call that fails.
    pub call: Call,
    /// How many such calls still go well.
    pub after: usize,
    /// What SQLite is told.
    pub code: c_int,
    /// Whether every later call of the kind fails too, as on a full disk.
    pub lasting: bool,
}

#[derive(Debug, Default)]
struct State {
    events: Vec<Event>,
    pragmas: Vec<(String, String)>,
    failure: Option<Failure>,
    failed: usize,
    synchronous_off: bool,
}

/// A watched folder.
#[derive(Debug, Clone)]
pub struct Disk {
    folder: PathBuf,
    state: Arc<Mutex<State>>,
}

/// The folders that are watched in this process.
static WATCHED: Mutex<Vec<Disk>> = Mutex::new(Vec::new());

fn held<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    // A test that panicked leaves nothing half done in here.
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Disk {
    /// Watches a folder from now on.
    pub fn watch(folder: &Path) -> Disk {
        register();
        let disk = Disk { folder: folder.canonicalize().unwrap(), state: Arc::default() };
        held(&WATCHED).push(disk.clone());
        disk
    }

    /// Returns how much has happened.
    pub fn now(&self) -> usize {
        held(&self.state).events.len()
    }

    /// Returns what happened.
    pub fn events(&self) -> Vec<Event> {
        held(&self.state).events.clone()
    }

    /// Returns the settings that the program asked SQLite for, name and value in small letters.
    pub fn settings(&self) -> Vec<(String, String)> {
        held(&self.state).pragmas.clone()
    }

    /// Makes every book of the folder run with `synchronous = OFF` whatever the program asks for.
    pub fn never_sync(&self) {
        held(&self.state).synchronous_off = true;
    }

    /// Does something while the disk works as it should.
    pub fn at_peace<T>(&self, work: impl FnOnce() -> T) -> T {
        let failure = held(&self.state).failure.take();
        let done = work();
        held(&self.state).failure = failure;
        done
    }

    /// Fails from now on, or with `None` no more; returns how often it failed before.
    pub fn fail(&self, failure: Option<Failure>) -> usize {
        let mut state = held(&self.state);
        state.failure = failure;
        std::mem::take(&mut state.failed)
    }
}

impl Disk {
    /// Answers a call: `None` when it goes well.
    fn refuses(&self, call: Call) -> Option<c_int> {
        let mut state = held(&self.state);
        let failure = state.failure.as_mut().filter(|failure| failure.call == call)?;
        if failure.after > 0 {
            failure.after -= 1;
            return None;
        }
        let code = failure.code;
        if !failure.lasting {
            state.failure = None;
        }
        state.failed += 1;
        Some(code)
    }

    fn record(&self, event: Event) {
        held(&self.state).events.push(event);
    }
}

/// Stops watching when a test is through with a folder.
pub struct Watch(pub Disk);

impl Drop for Watch {
    fn drop(&mut self) {
        held(&WATCHED).retain(|disk| disk.folder != self.0.folder);
    }
}

/// What stands in SQLite's memory for an open file of a watched folder; the system's own file follows right behind it.
#[repr(C)]
struct Handle {
    base: ffi::sqlite3_file,
    watched: *mut Watched,
}

/// Which file it is.
struct Watched {
    disk: Disk,
    name: String,
}

/// The VFS of the system, found once.
struct System(*mut ffi::sqlite3_vfs);

// SAFETY: SQLite keeps a VFS for the life of the process and calls it from many threads itself; the pointer is only read.
unsafe impl Send for System {}
// SAFETY: as above.
unsafe impl Sync for System {}

static SYSTEM: OnceLock<System> = OnceLock::new();

/// Puts this VFS before the system's, once.
fn register() {
    static ONCE: OnceLock<()> = OnceLock::new();
    ONCE.get_or_init(|| {
        let name = CString::new("under-the-tests").unwrap();
        // SAFETY: `sqlite3_vfs_find` takes a null pointer for the default VFS and returns one that lives as long as the
        // process. The copy keeps the system's functions, which on Unix look at nothing of the VFS they are handed but
        // `pAppData`, and that is copied too. The copy and its name are leaked, so that they live as long as well.
        unsafe {
            let system = ffi::sqlite3_vfs_find(std::ptr::null());
            assert!(!system.is_null(), "SQLite has a VFS");
            let mut vfs: ffi::sqlite3_vfs = std::ptr::read(system);
            vfs.szOsFile += size_of::<Handle>() as c_int;
            vfs.pNext = std::ptr::null_mut();
            vfs.zName = name.into_raw();
            vfs.xOpen = Some(open);
            vfs.xDelete = Some(delete);
            SYSTEM.get_or_init(|| System(system));
            let code = ffi::sqlite3_vfs_register(Box::leak(Box::new(vfs)), 1);
            assert_eq!(code, ffi::SQLITE_OK);
        }
    });
}

fn system() -> *mut ffi::sqlite3_vfs {
    SYSTEM.get().map_or(std::ptr::null_mut(), |system| system.0)
}

/// Finds the watched folder of a file, and the file's name in it.
///
/// # Safety
/// `path` is null or a text that ends in a zero byte.
unsafe fn watched(path: *const c_char) -> Option<Watched> {
    if path.is_null() {
        return None;
    }
    // SAFETY: the caller says so.
    let path = Path::new(OsStr::from_bytes(unsafe { CStr::from_ptr(path) }.to_bytes()));
    let folder = path.parent()?;
    let disk = held(&WATCHED).iter().find(|disk| disk.folder == folder)?.clone();
    Some(Watched { disk, name: path.file_name()?.to_string_lossy().into_owned() })
}

/// Opens a file: SQLite calls this with room for `szOsFile` bytes at `file`.
unsafe extern "C" fn open(
    _vfs: *mut ffi::sqlite3_vfs,
    path: *const c_char,
    file: *mut ffi::sqlite3_file,
    flags: c_int,
    out: *mut c_int,
) -> c_int {
    // SAFETY: SQLite hands over a path that ends in zero, or null; the system's functions are called with the system's own
    // VFS and with room for its file: at `file` itself, or behind the handle, for which `szOsFile` was raised. A handle is
    // two pointers long, so what follows is aligned as the system's file needs.
    unsafe {
        let real = system();
        let real_open = (*real).xOpen.expect("the system opens files");
        let Some(watched) = watched(path) else { return real_open(real, path, file, flags, out) };
        (*file).pMethods = std::ptr::null();
        if let Some(code) = watched.disk.refuses(Call::Open) {
            return code;
        }
        let new = !watched.disk.folder.join(&watched.name).exists();
        let behind = behind(file);
        let code = real_open(real, path, behind, flags, out);
        if (*behind).pMethods.is_null() {
            return code;
        }
        watched.disk.record(Event::Open { name: watched.name.clone(), new });
        let handle = file.cast::<Handle>();
        (*handle).watched = Box::into_raw(Box::new(watched));
        (*file).pMethods = &raw const METHODS;
        code
    }
}

unsafe extern "C" fn delete(_vfs: *mut ffi::sqlite3_vfs, path: *const c_char, sync_folder: c_int) -> c_int {
    // SAFETY: as in `open`.
    unsafe {
        let real = system();
        let code = (*real).xDelete.expect("the system removes files")(real, path, sync_folder);
        if let Some(Watched { disk, name }) = watched(path)
            && code == ffi::SQLITE_OK
        {
            disk.record(Event::Delete { name, safe: sync_folder != 0 });
        }
        code
    }
}

/// Returns the system's file behind a handle.
unsafe fn behind(file: *mut ffi::sqlite3_file) -> *mut ffi::sqlite3_file {
    // SAFETY: `file` is the start of `szOsFile` bytes, of which the first are the handle.
    unsafe { file.cast::<u8>().add(size_of::<Handle>()).cast() }
}

/// Returns which file a handle is of.
unsafe fn of<'a>(file: *mut ffi::sqlite3_file) -> &'a Watched {
    // SAFETY: these methods are only given to handles that `open` filled, and `close` is the last to be called.
    unsafe { &*(*file.cast::<Handle>()).watched }
}

/// Calls a method of the system's file.
macro_rules! really {
    ($file:expr, $method:ident $(, $argument:expr)*) => {{
        let file = behind($file);
        (*(*file).pMethods).$method.expect("the system's files have every method of version 2")(file $(, $argument)*)
    }};
}

static METHODS: ffi::sqlite3_io_methods = ffi::sqlite3_io_methods {
    iVersion: 2,
    xClose: Some(close),
    xRead: Some(read),
    xWrite: Some(write),
    xTruncate: Some(truncate),
    xSync: Some(sync),
    xFileSize: Some(file_size),
    xLock: Some(lock),
    xUnlock: Some(unlock),
    xCheckReservedLock: Some(check_reserved_lock),
    xFileControl: Some(file_control),
    xSectorSize: Some(sector_size),
    xDeviceCharacteristics: Some(device_characteristics),
    xShmMap: Some(shm_map),
    xShmLock: Some(shm_lock),
    xShmBarrier: Some(shm_barrier),
    xShmUnmap: Some(shm_unmap),
    xFetch: None,
    xUnfetch: None,
};

// SAFETY of all methods: SQLite calls them with a file that `open` filled and did not close yet, and with buffers of the
// length it names; they are handed on unchanged to the system's file.

unsafe extern "C" fn close(file: *mut ffi::sqlite3_file) -> c_int {
    unsafe {
        let code = really!(file, xClose);
        // The box was made in `open`; nothing uses the handle after this.
        drop(Box::from_raw((*file.cast::<Handle>()).watched));
        code
    }
}

unsafe extern "C" fn read(file: *mut ffi::sqlite3_file, into: *mut c_void, length: c_int, at: i64) -> c_int {
    unsafe {
        match of(file).disk.refuses(Call::Read) {
            Some(code) => code,
            None => really!(file, xRead, into, length, at),
        }
    }
}

unsafe extern "C" fn write(
    file: *mut ffi::sqlite3_file,
    from: *const c_void,
    length: c_int,
    at: i64,
) -> c_int {
    unsafe {
        let Watched { disk, name } = of(file);
        if let Some(code) = disk.refuses(Call::Write) {
            // A disk that runs full takes the first half.
            really!(file, xWrite, from, length / 2, at);
            return code;
        }
        let code = really!(file, xWrite, from, length, at);
        if code == ffi::SQLITE_OK {
            let bytes = std::slice::from_raw_parts(from.cast::<u8>(), length as usize).to_vec();
            disk.record(Event::Write { name: name.clone(), at: at as usize, bytes });
        }
        code
    }
}

unsafe extern "C" fn truncate(file: *mut ffi::sqlite3_file, size: i64) -> c_int {
    unsafe {
        let Watched { disk, name } = of(file);
        if let Some(code) = disk.refuses(Call::Truncate) {
            return code;
        }
        let code = really!(file, xTruncate, size);
        disk.record(Event::Truncate { name: name.clone(), size: size as usize });
        code
    }
}

unsafe extern "C" fn sync(file: *mut ffi::sqlite3_file, _flags: c_int) -> c_int {
    unsafe {
        let Watched { disk, name } = of(file);
        if let Some(code) = disk.refuses(Call::Sync) {
            return code;
        }
        // The real disk is left in peace: what would be safe after a cut is computed from the record.
        disk.record(Event::Sync { name: name.clone() });
        ffi::SQLITE_OK
    }
}

unsafe extern "C" fn file_control(file: *mut ffi::sqlite3_file, op: c_int, argument: *mut c_void) -> c_int {
    unsafe {
        if op == ffi::SQLITE_FCNTL_PRAGMA {
            let texts = argument.cast::<*mut c_char>();
            let (name, value) = (*texts.add(1), *texts.add(2));
            if !name.is_null() && !value.is_null() {
                let text = |from: *mut c_char| CStr::from_ptr(from).to_string_lossy().to_lowercase();
                let mut state = held(&of(file).disk.state);
                if state.synchronous_off && text(name) == "synchronous" && text(value) == "full" {
                    // SQLite owns this copy of the value and reads it after this call; the new word is shorter.
                    for (at, byte) in b"OFF\0".iter().enumerate() {
                        *value.add(at) = *byte as c_char;
                    }
                }
                state.pragmas.push((text(name), text(value)));
            }
        }
        really!(file, xFileControl, op, argument)
    }
}

unsafe extern "C" fn file_size(file: *mut ffi::sqlite3_file, size: *mut i64) -> c_int {
    unsafe { really!(file, xFileSize, size) }
}

unsafe extern "C" fn lock(file: *mut ffi::sqlite3_file, level: c_int) -> c_int {
    unsafe { really!(file, xLock, level) }
}

unsafe extern "C" fn unlock(file: *mut ffi::sqlite3_file, level: c_int) -> c_int {
    unsafe { really!(file, xUnlock, level) }
}

unsafe extern "C" fn check_reserved_lock(file: *mut ffi::sqlite3_file, out: *mut c_int) -> c_int {
    unsafe { really!(file, xCheckReservedLock, out) }
}

unsafe extern "C" fn sector_size(file: *mut ffi::sqlite3_file) -> c_int {
    unsafe { really!(file, xSectorSize) }
}

unsafe extern "C" fn device_characteristics(file: *mut ffi::sqlite3_file) -> c_int {
    unsafe { really!(file, xDeviceCharacteristics) }
}

unsafe extern "C" fn shm_map(
    file: *mut ffi::sqlite3_file,
    page: c_int,
    size: c_int,
    extend: c_int,
    out: *mut *mut c_void,
) -> c_int {
    unsafe { really!(file, xShmMap, page, size, extend, out) }
}

unsafe extern "C" fn shm_lock(file: *mut ffi::sqlite3_file, offset: c_int, n: c_int, flags: c_int) -> c_int {
    unsafe { really!(file, xShmLock, offset, n, flags) }
}

unsafe extern "C" fn shm_barrier(file: *mut ffi::sqlite3_file) {
    unsafe { really!(file, xShmBarrier) }
}

unsafe extern "C" fn shm_unmap(file: *mut ffi::sqlite3_file, delete: c_int) -> c_int {
    unsafe { really!(file, xShmUnmap, delete) }
}
