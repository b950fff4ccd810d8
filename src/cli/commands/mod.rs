//! One file per command: arguments, one call of a use case, words.

pub mod about;
pub mod audit;
mod audit_content;
mod audit_text;
pub mod backup;
pub mod body;
pub mod changed;
pub mod clock;
pub mod copy;
pub mod demo;
pub mod demo_look;
pub mod dump;
mod dump_copies;
pub mod examine;
pub mod export;
mod export_again;
mod export_calibration;
mod export_dataset;
#[cfg(feature = "parquet")]
mod export_dataset_files;
mod export_make;
mod export_request;
mod export_told;
pub mod frames;
pub mod frames_mark;
pub mod ingest;
pub mod lists;
pub mod look;
pub mod pointing;
pub mod query;
pub mod rebuild;
pub mod report;
pub mod sessions;
pub mod showers;
pub mod site;
pub mod statement;
pub mod trails;
