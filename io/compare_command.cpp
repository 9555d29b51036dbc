#include "io/compare_command.hpp"

#include "io/comparison.hpp"
#include "io/comparison_report.hpp"
#include "io/comparison_text.hpp"
#include "io/comparison_writer.hpp"
#include "io/interrupt.hpp"
#include "io/output_folder.hpp"
#include "io/parallel.hpp"
#include "io/run_counter.hpp"
#include "io/spoken.hpp"
#include "io/summary.hpp"
#include "io/wording.hpp"
#include "mesh/error.hpp"

#include <nlohmann/json.hpp>

#include <unistd.h>

#include <algorithm>
#include <iostream>
#include <memory>
#include <optional>

namespace tidemark {

namespace {

namespace fs = std::filesystem;

/// What is to be run, and the row it will fill.
struct PlannedRun {
  fs::path case_file;
  std::optional<CaseEdit> edit;
  Case input;
  ComparedRun row;
  bool could_write = true;
  std::optional<RunPicture> picture; // for the report
};

void refuse_same_names(const std::vector<PlannedRun>& runs) {
  for (auto run = runs.begin(); run != runs.end(); ++run) {
    const auto same = std::find_if(runs.begin(), run, [&](const PlannedRun& earlier) {
      return earlier.row.name == run->row.name;
    });
    if (same != run) {
      throw InputError("compare: found " + quoted_text(run->row.name) +
                       " twice, expected each run once, under a name of its own");
    }
  }
}

PlannedRun planned(const fs::path& case_file, std::optional<CaseEdit> edit, std::string name) {
  PlannedRun run{case_file, std::move(edit), {}, {}, true, {}};
  run.row.name = std::move(name);
  run.row.tried = run.edit ? run.edit->text : "";
  run.row.case_file = case_file.string();
  return run;
}

/// One case as it is and its alternatives, or several cases.
std::vector<PlannedRun> plan(const CompareOptions& options) {
  std::vector<PlannedRun> runs;
  if (options.alternatives.empty()) {
    for (const fs::path& case_file : options.cases) {
      runs.push_back(planned(case_file, std::nullopt, case_file.lexically_normal().string()));
    }
  } else {
    runs.push_back(planned(options.cases.front(), std::nullopt, "as it is"));
    std::vector<std::string> errors;
    for (const std::string& text : options.alternatives) {
      try {
        CaseEdit edit = parse_edit(text);
        std::string name = edit.label.empty() ? text : edit.label;
        runs.push_back(planned(options.cases.front(), std::move(edit), std::move(name)));
      } catch (const InputError& error) {
        errors.emplace_back(error.what());
      }
    }
    if (!errors.empty()) {
      throw InputError(errors);
    }
  }
  refuse_same_names(runs);
  return runs;
}

/// What is wrong with any of them. What is wrong with the case itself is said once, what only comes
/// with an alternative together with that.
class InputErrors {
public:
  template <class Read> void collect(const std::string& tried, Read read) {
    try {
      read();
    } catch (const InputError& error) {
      for (const std::string& finding : error.findings()) {
        add(tried, finding);
      }
    } catch (const FileError& error) {
      has_file_error_ = true;
      add(tried, error.what());
    }
  }
  void throw_if_any() const {
    if (has_file_error_) {
      throw FileError(InputError(texts_).what());
    }
    if (!texts_.empty()) {
      throw InputError(texts_);
    }
  }

private:
  void add(const std::string& tried, const std::string& text) {
    if (std::ranges::find(texts_, text) != texts_.end()) {
      return;
    }
    const std::string source = "--try " + quoted_text(tried);
    const bool names_source = tried.empty() || text.find(source) != std::string::npos;
    texts_.push_back(names_source ? text : source + ": " + text);
  }
  std::vector<std::string> texts_;
  bool has_file_error_ = false;
};

void read_inputs(std::vector<PlannedRun>& runs, const RunOptions& options) {
  InputErrors errors;
  for (PlannedRun& run : runs) {
    errors.collect(run.row.tried, [&] {
      run.input =
          with_options(read_checked(run.case_file, run.edit ? &*run.edit : nullptr), options);
    });
  }
  errors.throw_if_any();
  for (PlannedRun& run : runs) {
    run.row.title = run.input.title;
    run.row.currency = run.input.currency;
    run.row.has_prices = has_prices(run.input);
    run.row.warnings = run.input.warnings;
    run.row.air_caution = air_caution(run.input.problem);
  }
}

/// Costs in different currencies cannot be compared.
void refuse_mixed_currencies(const std::vector<PlannedRun>& runs) {
  const PlannedRun* first = nullptr;
  for (const PlannedRun& run : runs) {
    if (!run.row.has_prices) {
      continue;
    }
    first = first == nullptr ? &run : first;
    if (run.row.currency != first->row.currency) {
      throw InputError(run.row.name + ": currency: found " + quoted_text(run.row.currency) +
                       " beside " + quoted_text(first->row.currency) + " of " + first->row.name +
                       ", expected prices of one currency in all runs");
    }
  }
}

fs::path folder_of_run(const CompareOptions& options, std::size_t i) {
  return options.folder / ("run-" + std::to_string(i + 1));
}

/// "run-" and digits.
bool is_run_folder(const fs::directory_entry& entry) {
  const std::string name = entry.path().filename().string();
  return entry.is_directory() && name.size() > 4 && name.starts_with("run-") &&
         std::ranges::all_of(name.substr(4), [](char c) { return c >= '0' && c <= '9'; });
}

/// Of this comparison first, then those an earlier one left beyond.
std::vector<fs::path> run_folders(std::size_t count, const CompareOptions& options) {
  std::vector<fs::path> folders;
  for (std::size_t i = 0; i < count; ++i) {
    folders.push_back(folder_of_run(options, i));
  }
  std::vector<fs::path> left;
  for (const fs::directory_entry& entry : fs::directory_iterator(options.folder)) {
    const bool is_known = std::ranges::any_of(folders, [&](const fs::path& folder) {
      return folder.filename() == entry.path().filename();
    });
    if (!is_known && is_run_folder(entry) && has_filling(entry.path())) {
      left.push_back(entry.path());
    }
  }
  std::ranges::sort(left);
  folders.insert(folders.end(), left.begin(), left.end());
  return folders;
}

using HeldFolders = std::vector<std::unique_ptr<OutputFolder>>;

/// Holds folders one after the other. What it made goes again if empty, unless all are held.
class FolderHolder {
public:
  explicit FolderHolder(std::string what) : what_(std::move(what)) {}
  FolderHolder(const FolderHolder&) = delete;
  FolderHolder& operator=(const FolderHolder&) = delete;
  ~FolderHolder() {
    held_.clear();
    std::error_code not_empty;
    for (auto folder = made_.rbegin(); folder != made_.rend(); ++folder) {
      fs::remove(*folder, not_empty);
    }
  }
  void hold(const fs::path& folder, NameTest is_ours) {
    std::error_code none;
    if (!fs::exists(folder, none)) {
      made_.push_back(folder);
    }
    held_.push_back(std::make_unique<OutputFolder>(folder, is_ours, what_));
  }
  HeldFolders all_held() {
    made_.clear();
    return std::move(held_);
  }

private:
  std::string what_;
  HeldFolders held_;
  std::vector<fs::path> made_;
};

/// Runs of an earlier comparison would be taken for those of this one: they go, once it is sure
/// that nothing of anybody else would. Returns the folders of this one, held.
HeldFolders prepare_folders(const std::vector<PlannedRun>& runs, const CompareOptions& options) {
  FolderHolder holder("compare " + runs.front().case_file.string());
  holder.hold(options.folder, is_comparison_name);
  const std::size_t count = options.files ? runs.size() : 0;
  const std::vector<fs::path> folders = run_folders(count, options);
  for (const fs::path& folder : folders) {
    for (const PlannedRun& run : runs) {
      keep_inputs_safe(run.input, folder);
    }
    holder.hold(folder, is_output_name);
  }
  HeldFolders held = holder.all_held();
  for (const auto& folder : held) {
    folder->clear();
  }
  held.resize(1 + count);
  for (std::size_t i = count; i < folders.size(); ++i) {
    std::error_code not_empty;
    fs::remove(folders[i], not_empty);
  }
  return held;
}

FillResult result_of(const PlannedRun& run, const fs::path& folder, const CompareOptions& options) {
  if (options.files) {
    RunOptions silent = options.run;
    silent.quiet = true;
    silent.cure_search = false;
    return fill_and_write(run.input, folder, silent).result;
  }
  return fill(run.input.problem, fill_options(run.input, options.run),
              [](const StepReport&) { return !interrupted(); });
}

void compute(PlannedRun& run, const fs::path& folder, const CompareOptions& options,
             bool is_pictured) {
  ComparedRun& row = run.row;
  try {
    const FillResult result = result_of(run, folder, options);
    row.state = result.verdict == Verdict::filled ? RunState::filled : RunState::short_fill;
    row.reason = reason_word(result.reason);
    row.figures = figures_of(run.input, result);
    row.warnings = all_warnings(run.input, result);
    if (is_pictured) {
      run.picture = run_picture(run.input, result, row.name);
    }
  } catch (const FileError& error) {
    row.state = RunState::failed;
    row.error = error.what();
    run.could_write = false;
  } catch (const std::exception& error) {
    row.state = RunState::failed;
    row.error = failure_text(error);
  }
}

void compute_all(std::vector<PlannedRun>& runs, const CompareOptions& options) {
  RunCounter counter(runs.size(), "runs", !options.run.quiet && isatty(STDERR_FILENO) == 1);
  for_each_in_parallel(runs.size(), options.threads, [&](std::size_t i) {
    if (!interrupted()) {
      compute(runs[i], folder_of_run(options, i), options, options.run.report && i < most_pictures);
      counter.count_one();
    }
  });
}

std::vector<ComparedRun> rows_of(const std::vector<PlannedRun>& runs) {
  std::vector<ComparedRun> rows;
  std::ranges::transform(runs, std::back_inserter(rows), &PlannedRun::row);
  return rows;
}

std::string written_text(const CompareOptions& options, std::size_t count) {
  return "Written to " + options.folder.string() + ": compare.csv, compare.json" +
         (options.run.report ? ", compare.html" : "") +
         (options.files ? ", and each run's files in run-1 to run-" + std::to_string(count) : "") +
         ".\n";
}

RunsEnd outcome_of(const std::vector<PlannedRun>& runs) {
  const auto is = [](RunState state) {
    return [state](const PlannedRun& run) { return run.row.state == state; };
  };
  if (!std::ranges::all_of(runs, &PlannedRun::could_write)) {
    return RunsEnd::not_written;
  }
  if (std::ranges::any_of(runs, is(RunState::failed))) {
    return RunsEnd::some_failed;
  }
  return std::ranges::all_of(runs, is(RunState::filled)) ? RunsEnd::as_wished : RunsEnd::some_short;
}

} // namespace

RunsEnd run_compare(const CompareOptions& options) {
  std::vector<PlannedRun> runs = plan(options);
  read_inputs(runs, options.run);
  refuse_mixed_currencies(runs);
  const HeldFolders held = prepare_folders(runs, options);
  compute_all(runs, options);
  const std::vector<ComparedRun> rows = rows_of(runs);
  const std::string json = summary_text(comparison_json(rows));
  write_text_file(options.folder / "compare.csv", comparison_csv(rows));
  write_text_file(options.folder / "compare.json", json);
  if (options.run.report) {
    write_text_file(options.folder / "compare.html",
                    report_html(comparison_report(rows, pictures_of(runs))));
  }
  if (options.run.json) {
    print(json);
  } else if (!options.run.quiet) {
    print(printable(comparison_text(rows) + "\n" + written_text(options, rows.size())));
  }
  if (interrupted()) {
    std::cerr << "Interrupted: the files hold what was done so far.\n";
  }
  return outcome_of(runs);
}

} // namespace tidemark
