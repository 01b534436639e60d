//! `cargo xtask open`: loads a bundle as a host does, and says what is in it.
//!
//! The few declarations are those of CLAP's `entry.h` and `factory/plugin-factory.h`, and of VST3's
//! `ipluginbase.h` and `funknown.h`; only what is called is spelled out.

use std::ffi::{CStr, CString, c_char, c_void};
use std::path::{Path, PathBuf};

use libloading::Library;

use crate::bundle::build::{Order, Target};
use crate::bundle::platform::Format;
use crate::command::Command;
use crate::workspace::Workspace;

/// The command's entry in the table.
pub const COMMAND: Command = Command {
    name: "open",
    arguments: "BUNDLE...",
    summary: "Loads bundles as a host does and says what they hold",
    details: "\
Of a .clap the entry, init, the plugin factory and its plugins' ids, deinit; of a .vst3 the module's
entry, the factory and its count of classes, the module's exit. No plugin is made. A library that
crashes when it is loaded takes this command with it, hence `bundle` starts it on its own.",
    run,
};

fn run(_: &Workspace, arguments: &[String]) -> Result<(), String> {
    if arguments.is_empty() {
        return Err("'open' needs the path of a bundle".to_owned());
    }
    for argument in arguments {
        let bundle = Path::new(argument);
        let told = open(bundle)?;
        let name = bundle.file_name().unwrap_or_default();
        println!("{} opens: {told}", name.display());
    }
    Ok(())
}

/// Opens one bundle; answers in a sentence what is in it.
pub fn open(bundle: &Path) -> Result<String, String> {
    let ending = bundle.extension().unwrap_or_default();
    let format = Format::ALL
        .into_iter()
        .find(|format| ending == format.ending())
        .ok_or_else(|| {
            format!(
                "{} ends neither with .clap nor with .vst3",
                bundle.display()
            )
        })?;
    let inside = Target::of(&Order::default())?.platform.library(format);
    // The layout's path starts with the bundle's own name.
    let mut library = bundle.to_owned();
    library.extend(Path::new(&inside).iter().skip(1));
    let library = std::path::absolute(&library).unwrap_or(library);
    // SAFETY: the library's initialisers run, which is what this command is asked for.
    let loaded = unsafe { Library::new(&library) }
        .map_err(|error| format!("{} cannot be loaded: {error}", library.display()))?;
    match format {
        Format::Clap => clap(&loaded, &std::path::absolute(bundle).unwrap_or_default()),
        Format::Vst3 => vst3(&loaded),
    }
    .map_err(|error| format!("{} loads, but {error}", library.display()))
}

/// `clap_plugin_entry_t`.
#[repr(C)]
struct Entry {
    version: [u32; 3],
    init: Option<unsafe extern "C" fn(*const c_char) -> bool>,
    deinit: Option<unsafe extern "C" fn()>,
    get_factory: Option<unsafe extern "C" fn(*const c_char) -> *const c_void>,
}

/// `clap_plugin_factory_t`, without its last member.
#[repr(C)]
struct Factory {
    count: Option<unsafe extern "C" fn(*const Self) -> u32>,
    descriptor: Option<unsafe extern "C" fn(*const Self, u32) -> *const Descriptor>,
}

/// The start of `clap_plugin_descriptor_t`.
#[repr(C)]
struct Descriptor {
    version: [u32; 3],
    id: *const c_char,
}

fn clap(library: &Library, bundle: &Path) -> Result<String, String> {
    // SAFETY: the symbol is CLAP's, whose type this is.
    let entry = unsafe { library.get::<*const Entry>(b"clap_entry\0") }
        .map_err(|error| format!("has no clap_entry: {error}"))?;
    // SAFETY: a symbol's address is that of a static, which lives as long as the library.
    let entry = unsafe { entry.as_ref() }.ok_or("its clap_entry is null")?;
    let (Some(init), Some(deinit), Some(get_factory)) =
        (entry.init, entry.deinit, entry.get_factory)
    else {
        return Err("its clap_entry lacks a function".to_owned());
    };
    let path = CString::new(bundle.to_string_lossy().as_bytes()).map_err(|_| "its path has a 0")?;
    // SAFETY: init with a path comes first, deinit last, all on one thread, as entry.h asks.
    unsafe {
        if !init(path.as_ptr()) {
            return Err("its init answers no".to_owned());
        }
        let ids = ids(get_factory(c"clap.plugin-factory".as_ptr()).cast());
        deinit();
        let [major, minor, revision] = entry.version;
        let ids = ids?;
        Ok(format!(
            "CLAP {major}.{minor}.{revision}, {} plugin(s): {}",
            ids.len(),
            ids.join(", ")
        ))
    }
}

/// The ids of a factory's plugins.
///
/// # Safety
/// The pointer is null or what CLAP's entry answered, between init and deinit.
unsafe fn ids(factory: *const Factory) -> Result<Vec<String>, String> {
    // SAFETY: by this function's own condition, here and below.
    let table = unsafe { factory.as_ref() }.ok_or("it has no plugin factory")?;
    let (Some(count), Some(descriptor)) = (table.count, table.descriptor) else {
        return Err("its plugin factory lacks a function".to_owned());
    };
    let mut ids = Vec::new();
    for index in 0..unsafe { count(factory) } {
        let told = unsafe { descriptor(factory, index).as_ref() };
        let id = told.map_or(std::ptr::null(), |told| told.id);
        if id.is_null() {
            return Err(format!("its plugin {index} has no id"));
        }
        ids.push(unsafe { CStr::from_ptr(id) }.to_string_lossy().into_owned());
    }
    if ids.is_empty() {
        return Err("its plugin factory has no plugin".to_owned());
    }
    Ok(ids)
}

/// The start of the table of functions of `IPluginFactory`, those of `FUnknown` first.
#[repr(C)]
struct FactoryTable {
    query: *const c_void,
    add_ref: *const c_void,
    release: unsafe extern "system" fn(*mut FactoryObject) -> u32,
    factory_info: *const c_void,
    count_classes: unsafe extern "system" fn(*mut FactoryObject) -> i32,
}

/// An object of VST3: a pointer to its table of functions, the rest its own.
#[repr(C)]
struct FactoryObject {
    table: *const FactoryTable,
}

fn vst3(library: &Library) -> Result<String, String> {
    // Entry and exit of the module by the platform's names; Windows may do without.
    let (entry, exit) = if cfg!(windows) {
        ("InitDll\0", "ExitDll\0")
    } else if cfg!(target_os = "macos") {
        ("bundleEntry\0", "bundleExit\0")
    } else {
        ("ModuleEntry\0", "ModuleExit\0")
    };
    type Enter = unsafe extern "system" fn(*mut c_void) -> bool;
    type Leave = unsafe extern "system" fn() -> bool;
    type GetFactory = unsafe extern "system" fn() -> *mut FactoryObject;
    // SAFETY: the symbols are VST3's, whose types these are (InitDll takes nothing, and what it does
    // not take does no harm in this calling convention). The module's handle is not used by ours.
    unsafe {
        let named = |name: &str| format!("has no {}", name.trim_end_matches('\0'));
        let enter = library
            .get::<Enter>(entry.as_bytes())
            .map_err(|_| named(entry))?;
        let leave = library
            .get::<Leave>(exit.as_bytes())
            .map_err(|_| named(exit))?;
        let get = library
            .get::<GetFactory>(b"GetPluginFactory\0")
            .map_err(|_| named("GetPluginFactory"))?;
        if !enter(std::ptr::null_mut()) {
            return Err("its entry answers no".to_owned());
        }
        let factory = get();
        let classes = if factory.is_null() {
            Err("it has no plugin factory".to_owned())
        } else {
            let table = &*(*factory).table;
            let count = (table.count_classes)(factory);
            (table.release)(factory);
            Ok(count)
        };
        let left = leave();
        match classes? {
            ..1 => Err("its factory has no class".to_owned()),
            _ if !left => Err("its exit answers no".to_owned()),
            count => Ok(format!("VST3, {count} class(es)")),
        }
    }
}

/// Opens a bundle in a process of its own: a crash there is an error here.
pub fn apart(bundle: &Path) -> Result<(), String> {
    let xtask: PathBuf = std::env::current_exe()
        .map_err(|error| format!("this program's own path is unknown: {error}"))?;
    let mut command = std::process::Command::new(xtask);
    command.arg(COMMAND.name).arg(bundle);
    crate::tools::run(&mut command)
        .map_err(|error| format!("{} does not open ({error})", bundle.display()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_bundle_is_refused() {
        for path in ["x.so", "none.clap", "none.vst3"] {
            let error = open(Path::new(path)).expect_err(path);
            assert!(error.contains(path.trim_start_matches("./")), "{error}");
        }
    }
}
