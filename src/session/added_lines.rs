//! Lines added to the parts list, taken from another project: a dealer types them once.

use std::path::Path;

use super::in_hand::Session;
use super::refusal::Remark;
use crate::files;
use crate::plan::Edit;
use crate::plan::added_line::with_lines_of;
use crate::plan::words::counted;

impl Session {
    /// Copies the lines of another project's file that are not here yet, in one step; what is here stays as it is. Refused
    /// with the reason where the file can't be read, has no such lines, or has more than fit.
    pub fn take_added_lines(&mut self, file: &Path) -> Result<Remark, String> {
        let other = files::open(file).map_err(|error| error.to_string())?;
        if other.added_lines.is_empty() {
            return Err(format!(
                "{} adds no lines to its parts list; choose a project that does",
                file.display()
            ));
        }
        let here = &self.project().added_lines;
        let (all, before) = (with_lines_of(here, &other.added_lines), here.len());
        let new = all.len() - before;
        if new > 0 {
            let edit = Edit::SetAddedLines(all);
            self.edit("Take added lines", [edit]).map_err(|refusal| refusal.to_string())?;
        }
        let there = match other.added_lines.len() - new {
            0 => String::new(),
            1 => "; 1 was there already".to_owned(),
            many => format!("; {many} were there already"),
        };
        Ok(Remark::Taken(format!("{} added to the parts list{there}", counted(new, "line"))))
    }
}
