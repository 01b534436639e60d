//! The VST3 bundle through its binary interface, as far as loading and asking go; sound is for the
//! hosts in Python.

use std::ffi::c_void;
use std::mem::ManuallyDrop;
use std::path::Path;

use libloading::Library;
use vst3::Steinberg::Vst::{
    self, IAudioProcessor, IAudioProcessorTrait, IComponent, IComponentTrait, IEditController,
    IEditControllerTrait,
};
use vst3::Steinberg::{
    IPluginBaseTrait, IPluginFactory, IPluginFactory2, IPluginFactory2Trait, IPluginFactoryTrait,
    PClassInfo2, PFactoryInfo, kResultOk,
};
use vst3::{ComPtr, Interface};

use crate::tools::{bundle, use_test_settings};

/// A loaded module with its factory.
pub struct Module {
    factory: Option<ComPtr<IPluginFactory>>,
    /// Stays loaded for the life of the process, as in most hosts.
    library: ManuallyDrop<Library>,
}

/// What the factory says of a class.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Class {
    /// Class id, sixteen bytes.
    pub id: [u8; 16],
    /// Kind of class: "Audio Module Class" for what processes.
    pub category: String,
    /// Name for people.
    pub name: String,
    /// What it is, words parted by bars.
    pub subcategories: String,
    /// Who made it.
    pub vendor: String,
    /// Its version.
    pub version: String,
}

/// What the controller says of a parameter.
#[derive(Clone, Debug, PartialEq)]
pub struct Vst3Param {
    /// Numeric id.
    pub id: u32,
    /// Name for people.
    pub title: String,
    /// Unit shown beside the text; ours is inside it.
    pub units: String,
    /// Steps between the ends; 0 when continuous.
    pub steps: i32,
    /// Where it starts, 0 to 1.
    pub default: f64,
    /// The text of that.
    pub default_text: String,
    /// What it is good for.
    pub flags: i32,
}

impl Module {
    /// Loads the VST3 under test (`PENSTOCK_BUNDLES`).
    ///
    /// # Panics
    /// When it does not load.
    #[must_use]
    pub fn load() -> Self {
        let path = bundle("Penstock.vst3").join("Contents/x86_64-linux/Penstock.so");
        use_test_settings();
        // SAFETY: loading runs the bundle's code, which is what these tests are for.
        let library = unsafe { open(&path) };
        type Entry = unsafe extern "system" fn(*mut c_void) -> bool;
        // SAFETY: names and types of VST3's module interface on Linux; the handle is not looked at
        // by modules that need no path.
        let factory = unsafe {
            let entry = library
                .get::<Entry>(b"ModuleEntry\0")
                .expect("it has ModuleEntry");
            assert!(
                entry(std::ptr::from_ref(&library).cast_mut().cast()),
                "ModuleEntry"
            );
            let get = library
                .get::<unsafe extern "system" fn() -> *mut IPluginFactory>(b"GetPluginFactory\0")
                .expect("it has GetPluginFactory");
            ComPtr::from_raw(get()).expect("it has a factory")
        };
        Self {
            factory: Some(factory),
            library: ManuallyDrop::new(library),
        }
    }

    fn factory(&self) -> &ComPtr<IPluginFactory> {
        self.factory.as_ref().expect("it is there until the end")
    }

    /// Vendor of the module.
    ///
    /// # Panics
    /// When the factory does not say.
    #[must_use]
    pub fn vendor(&self) -> String {
        // SAFETY: the structure is plain data, zero is valid, and the factory fills it.
        unsafe {
            let mut info: PFactoryInfo = std::mem::zeroed();
            assert_eq!(self.factory().getFactoryInfo(&raw mut info), kResultOk);
            chars(&info.vendor)
        }
    }

    /// Every class.
    ///
    /// # Panics
    /// When the factory counts one that it does not describe.
    #[must_use]
    pub fn classes(&self) -> Vec<Class> {
        let factory = self.factory();
        let newer: ComPtr<IPluginFactory2> = factory.cast().expect("a factory of VST 3.1 on");
        // SAFETY: as in vendor(); the count is the factory's own.
        let class = |index| unsafe {
            let mut info: PClassInfo2 = std::mem::zeroed();
            assert_eq!(newer.getClassInfo2(index, &raw mut info), kResultOk);
            Class {
                id: info.cid.map(|byte| byte as u8),
                category: chars(&info.category),
                name: chars(&info.name),
                subcategories: chars(&info.subCategories),
                vendor: chars(&info.vendor),
                version: chars(&info.version),
            }
        };
        // SAFETY: a plain question.
        let count = unsafe { factory.countClasses() };
        (0..count).map(class).collect()
    }

    /// A new initialized component of a class.
    ///
    /// # Panics
    /// When it cannot be made or initialized.
    #[must_use]
    pub fn component(&self, class: &Class) -> Component {
        let id = class.id.map(|byte| byte as vst3::Steinberg::char8);
        let iid = IComponent::IID;
        let mut object = std::ptr::null_mut();
        // SAFETY: class and interface ids are sixteen bytes, the object comes back with a reference
        // that is ours.
        unsafe {
            let made =
                self.factory()
                    .createInstance(id.as_ptr(), iid.as_ptr().cast(), &raw mut object);
            assert_eq!(made, kResultOk, "an instance of {}", class.name);
            let component = ComPtr::from_raw(object.cast()).expect("an instance");
            let component: ComPtr<IComponent> = component;
            assert_eq!(component.initialize(std::ptr::null_mut()), kResultOk);
            Component { component }
        }
    }
}

impl Drop for Module {
    fn drop(&mut self) {
        // The factory's code lies in the library.
        drop(self.factory.take());
        // SAFETY: name and type of VST3's module interface on Linux.
        unsafe {
            let exit = self
                .library
                .get::<unsafe extern "system" fn() -> bool>(b"ModuleExit\0");
            exit.expect("it has ModuleExit")();
        }
    }
}

/// One component, terminated when dropped.
pub struct Component {
    component: ComPtr<IComponent>,
}

impl Component {
    fn audio(&self) -> ComPtr<IAudioProcessor> {
        self.component.cast().expect("it processes audio")
    }

    /// Whether it takes this many channels in and out.
    #[must_use]
    pub fn takes(&self, inputs: u32, outputs: u32) -> bool {
        let arrangement = |channels| match channels {
            1 => Vst::SpeakerArr::kMono,
            2 => Vst::SpeakerArr::kStereo,
            more => (1 << more) - 1,
        };
        let (mut into, mut out) = (arrangement(inputs), arrangement(outputs));
        // SAFETY: one arrangement each.
        unsafe {
            self.audio()
                .setBusArrangements(&raw mut into, 1, &raw mut out, 1)
                == kResultOk
        }
    }

    /// Channels of its first bus in and its first bus out.
    ///
    /// # Panics
    /// When it does not describe them.
    #[must_use]
    pub fn channels(&self) -> [i32; 2] {
        let (audio, into, out) = (
            Vst::MediaTypes_::kAudio as Vst::MediaType,
            Vst::BusDirections_::kInput as Vst::BusDirection,
            Vst::BusDirections_::kOutput as Vst::BusDirection,
        );
        // SAFETY: the structure is plain data, zero is valid, and the component fills it.
        [into, out].map(|direction| unsafe {
            assert_eq!(self.component.getBusCount(audio, direction), 1, "one bus");
            let mut info: Vst::BusInfo = std::mem::zeroed();
            let told = self
                .component
                .getBusInfo(audio, direction, 0, &raw mut info);
            assert_eq!(told, kResultOk);
            info.channelCount
        })
    }

    /// Activates it at a rate and deactivates it; gives the latency in frames while active.
    ///
    /// # Panics
    /// When it refuses.
    #[must_use]
    pub fn latency_at(&self, rate_hz: f64) -> u32 {
        let audio = self.audio();
        let mut setup = Vst::ProcessSetup {
            processMode: Vst::ProcessModes_::kRealtime as i32,
            symbolicSampleSize: Vst::SymbolicSampleSizes_::kSample32 as i32,
            maxSamplesPerBlock: 512,
            sampleRate: rate_hz,
        };
        // SAFETY: the order of calls is VST3's: set up, active, inactive.
        unsafe {
            assert_eq!(audio.setupProcessing(&raw mut setup), kResultOk);
            assert_eq!(self.component.setActive(1), kResultOk);
            let latency = audio.getLatencySamples();
            assert_eq!(self.component.setActive(0), kResultOk);
            latency
        }
    }

    /// Every parameter: all indices from 0 to the count less one. (The framework aborts the process
    /// at the count itself, which no host asks for.)
    ///
    /// # Panics
    /// When it counts one that it does not describe.
    #[must_use]
    pub fn params(&self) -> Vec<Vst3Param> {
        let controller: ComPtr<IEditController> = self
            .component
            .cast()
            .expect("component and controller are one");
        // SAFETY: the structures are plain data, zero is valid, and the controller fills them.
        let param = |index| unsafe {
            let mut info: Vst::ParameterInfo = std::mem::zeroed();
            assert_eq!(controller.getParameterInfo(index, &raw mut info), kResultOk);
            let mut text: Vst::String128 = std::mem::zeroed();
            let default = info.defaultNormalizedValue;
            let told = controller.getParamStringByValue(info.id, default, &raw mut text);
            assert_eq!(told, kResultOk);
            Vst3Param {
                id: info.id,
                title: wide(&info.title),
                units: wide(&info.units),
                steps: info.stepCount,
                default,
                default_text: wide(&text),
                flags: info.flags,
            }
        };
        // SAFETY: a plain question.
        let count = unsafe { controller.getParameterCount() };
        (0..count).map(param).collect()
    }
}

impl Drop for Component {
    fn drop(&mut self) {
        // SAFETY: it was initialized when made.
        unsafe { self.component.terminate() };
    }
}

unsafe fn open(path: &Path) -> Library {
    // SAFETY: the caller's to see to.
    unsafe { Library::new(path) }.unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

fn chars(text: &[vst3::Steinberg::char8]) -> String {
    let bytes = text.iter().map(|c| *c as u8).take_while(|byte| *byte != 0);
    String::from_utf8_lossy(&bytes.collect::<Vec<u8>>()).into_owned()
}

fn wide(text: &[vst3::Steinberg::char16]) -> String {
    let units = text.iter().copied().take_while(|unit| *unit != 0);
    String::from_utf16_lossy(&units.collect::<Vec<u16>>())
}
