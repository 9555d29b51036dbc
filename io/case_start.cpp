#include "io/case_start.hpp"

#include "io/first_case.hpp"
#include "io/mesh_reader.hpp"
#include "io/output_folder.hpp"
#include "io/raw_case.hpp"
#include "io/raw_name.hpp"
#include "io/spoken.hpp"
#include "io/toml_text.hpp"
#include "io/wording.hpp"
#include "mesh/error.hpp"
#include "mesh/mesh_check.hpp"

#include <algorithm>
#include <iostream>

namespace tidemark {

namespace {

namespace fs = std::filesystem;

/// The unit of the mesh is not known yet. Findings about a mesh give places in mm: with this one
/// they are the numbers of the mesh file.
constexpr double unit_as_if = 1e-3; // [m]
const char* const as_if = "places are told as if the mesh's unit were mm";

fs::path folder_of(const fs::path& file) {
  return file.has_parent_path() ? file.parent_path() : fs::path(".");
}

void refuse_to_replace(const fs::path& file, const fs::path& mesh_file, bool overwrite) {
  std::error_code missing; // then there is nothing to lose
  if (fs::equivalent(file, mesh_file, missing)) {
    throw InputError(file.string() + ": is the mesh, expected another name for the case file");
  }
  if (fs::is_directory(file, missing)) {
    throw FileError(file.string() + ": is a folder, expected the name of a case file to write");
  }
  if (!overwrite && fs::exists(fs::symlink_status(file, missing))) {
    throw FileError(file.string() + ": is there already; --overwrite replaces it, -o FILE writes "
                                    "to another");
  }
  if (!fs::is_directory(folder_of(file), missing)) {
    throw FileError(file.string() + ": cannot be written: there is no folder " +
                    folder_of(file).string());
  }
}

/// The mesh as seen from the folder of the case file, links followed as the system does.
std::string mesh_name_in(const fs::path& case_file, const fs::path& mesh_file) {
  const fs::path from = fs::canonical(folder_of(case_file));
  const fs::path to = fs::canonical(folder_of(mesh_file));
  const fs::path name = (to.lexically_relative(from) / mesh_file.filename()).lexically_normal();
  if (!is_utf8(name.generic_string())) {
    throw InputError(mesh_file.string() + ": found a name that is not UTF-8, expected one that can "
                                          "stand in a case file");
  }
  return name.generic_string();
}

std::string title_of(const fs::path& case_file) {
  const std::string name = case_file.stem().string();
  const bool is_fit =
      !name.empty() && is_utf8(name) && !has_control_characters(name) && name != "?";
  return is_fit ? name : "First case";
}

void refuse_faulty(const std::vector<MeshFinding>& findings, const fs::path& mesh_file) {
  std::vector<std::string> errors;
  for (const MeshFinding& finding : findings) {
    if (finding.is_error) {
      errors.push_back(mesh_file.string() + ": " + finding.text + " (" + as_if + ")");
    }
  }
  if (!errors.empty()) {
    throw InputError(errors);
  }
}

/// How many values of a case file are still "?".
std::size_t unfilled_in(const std::string& text) {
  Findings findings{};
  parse_case(text, findings);
  return static_cast<std::size_t>(std::ranges::count(findings.errors, true, &Finding::is_unfilled));
}

void tell(const fs::path& case_file, const std::string& text, const MeshFile& mesh,
          const std::vector<MeshFinding>& findings) {
  for (const std::string& note : mesh.notes) {
    std::cout << printable("Note: " + note + "\n");
  }
  for (const MeshFinding& finding : findings) {
    std::cout << printable("Warning: " + finding.text + " (" + as_if + ")\n");
  }
  std::cout << printable("Written to " + case_file.string() + ". " +
                         counted(unfilled_in(text), "value is", "values are") +
                         " still to be filled in, each marked \"?\": see\n  tidemark check " +
                         case_file.string() + "\n")
            << std::flush;
  if (!std::cout) {
    throw FileError("standard output cannot be written");
  }
}

} // namespace

void run_start(const fs::path& mesh_file, const StartOptions& options) {
  if (mesh_file.extension() == ".toml") {
    throw InputError(mesh_file.string() +
                     ": is named like a case file, expected a mesh; tidemark "
                     "check " +
                     mesh_file.string() + " tells what is in a case");
  }
  const fs::path case_file =
      options.output.value_or(fs::path(mesh_file).replace_extension(".toml"));
  refuse_to_replace(case_file, mesh_file, options.overwrite);
  const MeshFile mesh = read_mesh(mesh_file, unit_as_if);
  const std::vector<MeshFinding> findings = check_mesh(mesh.mesh);
  refuse_faulty(findings, mesh_file);
  const std::string text = first_case_text(mesh.mesh, unit_as_if, title_of(case_file),
                                           mesh_name_in(case_file, mesh_file));
  write_text_file(case_file, text);
  if (!options.quiet) {
    tell(case_file, text, mesh, findings);
  }
}

} // namespace tidemark
