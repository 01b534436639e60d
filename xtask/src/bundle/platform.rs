//! Where the parts of a bundle lie on each platform.
//!
//! Sources: the CLAP repository's README and entry.h; "VST 3 Developer Portal, Plug-in Format
//! Structure"; for macOS "Bundle Programming Guide", Anatomy of Framework and Bundle.

/// The product's name: of the bundles and of the library inside.
pub const NAME: &str = "Penstock";
/// The identifier that macOS asks of a bundle.
const IDENTIFIER: &str = "org.penstock.penstock";

/// A system that hosts run on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum System {
    /// Shared objects.
    Linux,
    /// DLLs.
    Windows,
    /// Bundles with a property list.
    MacOs,
}

/// A system and a processor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Platform {
    /// The system.
    pub system: System,
    /// The folder in a VST3 bundle that holds the library.
    folder: &'static str,
}

impl Platform {
    /// The platform of a target triple; an error names those that are known.
    pub fn of(triple: &str) -> Result<Self, String> {
        let arm = triple.starts_with("aarch64-");
        let known = arm || triple.starts_with("x86_64-");
        let (system, folder) = if triple.contains("-linux-") && known {
            let folder = if arm { "aarch64-linux" } else { "x86_64-linux" };
            (System::Linux, folder)
        } else if triple.contains("-windows-") && known {
            let folder = if arm { "arm64-win" } else { "x86_64-win" };
            (System::Windows, folder)
        } else if triple.ends_with("-apple-darwin") && known {
            (System::MacOs, "MacOS")
        } else {
            return Err(format!(
                "no bundle is laid out for '{triple}'; for x86_64 and aarch64 on linux, windows \
                 and apple-darwin there is one"
            ));
        };
        Ok(Self { system, folder })
    }

    /// The library inside a bundle, relative to the folder that holds the bundle.
    pub fn library(self, format: Format) -> String {
        let bundle = format.bundle();
        match (self.system, format) {
            (System::Linux | System::Windows, Format::Clap) => bundle,
            (System::Linux, Format::Vst3) => format!("{bundle}/Contents/{}/{NAME}.so", self.folder),
            (System::Windows, Format::Vst3) => {
                format!("{bundle}/Contents/{}/{NAME}.vst3", self.folder)
            }
            (System::MacOs, _) => format!("{bundle}/Contents/{}/{NAME}", self.folder),
        }
    }

    /// The texts inside a bundle beside the library: path as above, content.
    pub fn texts(self, format: Format, version: &str) -> Vec<(String, String)> {
        if self.system != System::MacOs {
            return Vec::new();
        }
        let contents = format!("{}/Contents", format.bundle());
        vec![
            (format!("{contents}/Info.plist"), property_list(version)),
            // Type and creator: a bundle, of nobody registered.
            (format!("{contents}/PkgInfo"), "BNDL????".to_owned()),
        ]
    }
}

/// A plugin interface.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// CLever Audio Plug-in.
    Clap,
    /// VST 3.
    Vst3,
}

impl Format {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Clap, Self::Vst3];

    /// The ending of a bundle's name, without the dot.
    pub fn ending(self) -> &'static str {
        match self {
            Self::Clap => "clap",
            Self::Vst3 => "vst3",
        }
    }

    /// The bundle's name.
    pub fn bundle(self) -> String {
        format!("{NAME}.{}", self.ending())
    }
}

fn property_list(version: &str) -> String {
    let pairs = [
        ("CFBundleDevelopmentRegion", "en"),
        ("CFBundleExecutable", NAME),
        ("CFBundleIdentifier", IDENTIFIER),
        ("CFBundleInfoDictionaryVersion", "6.0"),
        ("CFBundleName", NAME),
        ("CFBundlePackageType", "BNDL"),
        ("CFBundleShortVersionString", version),
        ("CFBundleSignature", "????"),
        ("CFBundleVersion", version),
    ];
    let pairs: String = pairs
        .iter()
        .map(|(key, value)| format!("  <key>{key}</key>\n  <string>{value}</string>\n"))
        .collect();
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <!DOCTYPE plist PUBLIC \"-//Apple//DTD PLIST 1.0//EN\" \
         \"http://www.apple.com/DTDs/PropertyList-1.0.dtd\">\n\
         <plist version=\"1.0\">\n<dict>\n{pairs}  <key>NSHighResolutionCapable</key>\n  \
         <true/>\n</dict>\n</plist>\n"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_platform_has_its_places() {
        for (triple, clap, vst3) in [
            (
                "x86_64-unknown-linux-gnu",
                "Penstock.clap",
                "Penstock.vst3/Contents/x86_64-linux/Penstock.so",
            ),
            (
                "aarch64-unknown-linux-gnu",
                "Penstock.clap",
                "Penstock.vst3/Contents/aarch64-linux/Penstock.so",
            ),
            (
                "x86_64-pc-windows-msvc",
                "Penstock.clap",
                "Penstock.vst3/Contents/x86_64-win/Penstock.vst3",
            ),
            (
                "aarch64-apple-darwin",
                "Penstock.clap/Contents/MacOS/Penstock",
                "Penstock.vst3/Contents/MacOS/Penstock",
            ),
        ] {
            let platform = Platform::of(triple).expect(triple);
            assert_eq!(platform.library(Format::Clap), clap, "{triple}");
            assert_eq!(platform.library(Format::Vst3), vst3, "{triple}");
        }
    }

    #[test]
    fn a_platform_nobody_laid_out_is_refused() {
        for triple in [
            "wasm32-unknown-unknown",
            "i686-pc-windows-msvc",
            "aarch64-apple-ios",
        ] {
            let error = Platform::of(triple).expect_err(triple);
            assert!(error.contains(triple), "{error}");
        }
    }

    #[test]
    fn only_macos_has_a_property_list_and_it_holds_the_version() {
        let linux = Platform::of("x86_64-unknown-linux-gnu").expect("known");
        assert!(linux.texts(Format::Clap, "1.2.3").is_empty());
        let macos = Platform::of("x86_64-apple-darwin").expect("known");
        let texts = macos.texts(Format::Vst3, "1.2.3");
        let (path, list) = &texts[0];
        assert_eq!(path, "Penstock.vst3/Contents/Info.plist");
        assert!(
            list.contains("<key>CFBundleVersion</key>\n  <string>1.2.3</string>"),
            "{list}"
        );
        assert!(
            list.contains("<string>org.penstock.penstock</string>"),
            "{list}"
        );
        assert_eq!(texts[1].0, "Penstock.vst3/Contents/PkgInfo");
        assert_eq!(texts[1].1.len(), 8);
    }
}
