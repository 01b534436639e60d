//! The bundle and what its factory says.

use std::ffi::{CStr, CString};
use std::path::Path;
use std::sync::Arc;

use clack_host::prelude::*;

use super::handlers::{Handlers, Main, Shared};
use super::plugin::Plugin;
use crate::tools::{bundle, use_test_settings};

/// A loaded CLAP bundle.
pub struct Bundle {
    entry: PluginEntry,
}

/// What a factory says of a plugin.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct About {
    /// Stable id.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// Who made it.
    pub vendor: String,
    /// Its version.
    pub version: String,
    /// One sentence.
    pub description: String,
    /// CLAP's words for what it is.
    pub features: Vec<String>,
}

impl Bundle {
    /// The CLAP under test (`PENSTOCK_BUNDLES`). It stays loaded for the life of the process, as in
    /// most hosts.
    #[must_use]
    pub fn load() -> Self {
        let this = Self::load_from(&bundle("Penstock.clap"));
        std::mem::forget(this.entry.clone());
        this
    }

    /// A CLAP of this path; unloaded with the last of its instances.
    ///
    /// # Panics
    /// When it does not load.
    #[must_use]
    pub fn load_from(path: &Path) -> Self {
        use_test_settings();
        // SAFETY: loading runs the bundle's code, which is what these tests are for.
        let entry = unsafe { PluginEntry::load(path) }
            .unwrap_or_else(|error| panic!("{} does not load: {error}", path.display()));
        Self { entry }
    }

    /// Every plugin in it.
    ///
    /// # Panics
    /// When it has no plugin factory.
    #[must_use]
    pub fn plugins(&self) -> Vec<About> {
        let factory = self
            .entry
            .get_plugin_factory()
            .expect("the bundle has a plugin factory");
        let about = |plugin: &clack_host::plugin::PluginDescriptor| About {
            id: words(plugin.id()),
            name: words(plugin.name()),
            vendor: words(plugin.vendor()),
            version: words(plugin.version()),
            description: words(plugin.description()),
            features: plugin.features().map(|word| words(Some(word))).collect(),
        };
        factory.plugin_descriptors().map(about).collect()
    }

    /// A new instance of its first plugin, inactive.
    ///
    /// # Panics
    /// When it cannot be made.
    #[must_use]
    pub fn instance(&self) -> Plugin {
        let plugins = self.plugins();
        let about = plugins.first().expect("the bundle holds a plugin");
        let id = CString::new(about.id.as_str()).expect("an id holds no zero byte");
        let host = HostInfo::new(
            "Penstock's tests",
            "Penstock",
            "",
            env!("CARGO_PKG_VERSION"),
        )
        .expect("no zero bytes here");
        let requests = Arc::default();
        let (shared, main) = (Arc::clone(&requests), Arc::clone(&requests));
        let instance = PluginInstance::<Handlers>::new(
            move |()| Shared(shared),
            move |_| Main(main),
            &self.entry,
            &id,
            &host,
        );
        let instance = instance.unwrap_or_else(|error| panic!("no instance of {id:?}: {error}"));
        Plugin::new(instance, requests)
    }
}

fn words(text: Option<&CStr>) -> String {
    text.map(|text| text.to_string_lossy().into_owned())
        .unwrap_or_default()
}
