//! Penstock held against outside truth: one program of tests, so that it links once.

mod bad_files;
mod bad_outputs;
mod bad_values;
mod compare_loudness;
mod compare_report;
mod documents;
mod half_bands;
mod host_audio;
mod host_equal;
mod host_fuzz;
mod host_load;
mod host_params;
mod host_samples;
mod host_state;
mod later;
mod levels_chain;
mod levels_tables;
mod long_files;
mod pad_limits;
mod pad_scikit_rf;
mod pad_tables;
mod render_files;
mod render_level;
mod render_shape;
mod routes;
mod triode_tables;
