#include "io/case_runs.hpp"

#include "io/bleeding_text.hpp"
#include "io/case_file.hpp"
#include "io/channel_fineness.hpp"
#include "io/field_writer.hpp"
#include "io/fill_report.hpp"
#include "io/history_writer.hpp"
#include "io/interrupt.hpp"
#include "io/output_folder.hpp"
#include "io/picture_content.hpp"
#include "io/setup_sheet.hpp"
#include "io/sheet_html.hpp"
#include "io/sheet_markdown.hpp"
#include "io/shop_units.hpp"
#include "io/spoken.hpp"
#include "io/summary.hpp"
#include "io/terminal.hpp"
#include "io/verdict_text.hpp"
#include "mesh/error.hpp"
#include "solver/cure_search.hpp"
#include "solver/element_permeability.hpp"
#include "solver/permeability_band.hpp"

#include <nlohmann/json.hpp>

#include <sys/resource.h>
#include <unistd.h>

#include <chrono>
#include <iostream>
#include <optional>
#include <string_view>

namespace tidemark {

namespace {

namespace fs = std::filesystem;
using Clock = std::chrono::steady_clock;

/// Largest memory the process has held so far [bytes].
std::int64_t peak_memory() {
  rusage usage{};
  getrusage(RUSAGE_SELF, &usage);
#ifdef __APPLE__
  const std::int64_t unit = 1;
#else
  const std::int64_t unit = 1024;
#endif
  return unit * usage.ru_maxrss;
}

/// Fills, and after each step adds to the series, shows the progress and heeds Ctrl-C.
FillResult fill_and_record(const Case& input, const fs::path& folder, const RunOptions& options,
                           FrontSeries& series) {
  std::optional<ProgressLine> progress;
  if (!options.quiet && isatty(STDERR_FILENO) == 1) {
    progress.emplace(std::cerr);
  }
  std::vector<HistoryRow> history;
  const auto watch = [&](const StepReport& report) {
    history.push_back(report.row);
    series.after_step(report);
    if (progress) {
      progress->after_step(report.row);
    }
    return !interrupted();
  };
  try {
    FillResult result = fill(input.problem, fill_options(input, options), watch);
    series.finish(result);
    return result;
  } catch (const SolveError& error) {
    write_history(folder / "history.csv", input.problem, history);
    throw SolveError(std::string(error.what()) + "\n" + folder.string() +
                     " holds the history and frames of the steps done");
  }
}

/// What would fill a part that gels too early, by filling it again; none if it does not, or if it
/// is not wanted.
std::optional<CureSearch> searched_cure(const Case& input, const FillResult& result,
                                        const RunOptions& options) {
  if (result.reason != ShortReason::gel || !options.cure_search) {
    return std::nullopt;
  }
  if (!options.quiet && isatty(STDERR_FILENO) == 1) {
    std::cerr << "The resin gels too early; looking for what would fill the part. Ctrl-C ends "
                 "that.\n";
  }
  CureSearchOptions search{.fill = options.fill, .goes_on = [] { return !interrupted(); }};
  search.fill.time_limit = input.time_limit;
  std::optional<CatalystLevels> levels;
  if (const auto& choice = input.resin.catalyst_choice; choice && input.resin.catalyst) {
    levels = {*input.resin.catalyst, choice->lowest, choice->resin_at};
  }
  return search_cure(input.problem, search, levels);
}

std::string written_text(const fs::path& folder, const RunOptions& options, std::size_t frames,
                         const WrittenPictures& pictures) {
  std::string text = "Written to " + folder.string() + ": summary.json, history.csv, fill.vtu";
  if (options.report) {
    text += ", " + std::string(report_name);
  }
  if (frames > 0) {
    text += ", front.pvd with " + std::to_string(frames) + (frames == 1 ? " frame" : " frames");
  }
  for (const std::string& name : pictures.names) {
    text += ", " + name;
  }
  return text + ".\n";
}

struct SheetFillings {
  FillResult expected;
  PermeabilityBand band; // empty if the part does not fill as expected
};

bool was_interrupted(const std::optional<FillResult>& result) {
  return result && result->reason == ShortReason::interrupted;
}

/// The filling, and if it fills the part the two that tell how sure its figures are. None if it was
/// interrupted.
std::optional<SheetFillings> fill_for_sheet(const Case& input, const RunOptions& options) {
  const bool is_told = !options.quiet && isatty(STDERR_FILENO) == 1;
  const FillOptions settings = fill_options(input, options);
  SheetFillings fillings;
  {
    std::optional<ProgressLine> progress;
    if (is_told) {
      progress.emplace(std::cerr);
    }
    fillings.expected = fill(input.problem, settings, [&](const StepReport& report) {
      if (progress) {
        progress->after_step(report.row);
      }
      return !interrupted();
    });
  }
  if (fillings.expected.verdict == Verdict::filled) {
    if (is_told) {
      std::cerr << "It fills; now with less and with more permeability.\n";
    }
    fillings.band = permeability_band(input.problem, settings, [] { return !interrupted(); });
  }
  const bool is_whole = !was_interrupted(fillings.expected) &&
                        !was_interrupted(fillings.band.tighter) &&
                        !was_interrupted(fillings.band.more_open);
  return is_whole ? std::optional(std::move(fillings)) : std::nullopt;
}

/// What is said on the terminal of a sheet.
std::string sheet_told(const SetupSheet& sheet, const Case& input, const FillResult& expected) {
  std::string text = sheet.title + "\n\n";
  if (expected.verdict == Verdict::filled) {
    text += "The part fills. It takes about " +
            as_minutes(expected.fill_time.value_or(expected.end_time)) + ".\n";
  }
  if (expected.bleeding && expected.bleeding->ended_at) { // else it is among what is to be minded
    text += bleeding_text(input.problem, expected) + "\n";
  }
  if (!sheet.forbidden.empty()) {
    text += "Do not inject as set:\n";
  }
  for (const std::string& reason : sheet.forbidden) {
    text += "  " + reason + "\n";
  }
  return text + warnings_text(sheet.attention);
}

} // namespace

/// A mesh written by an earlier run may serve as input, but not from where it would be replaced.
void keep_inputs_safe(const Case& input, const fs::path& folder, NameTest is_ours) {
  for (const fs::path& file :
       {input.file, input.mesh_file, input.fabrics_file.value_or(input.file)}) {
    std::error_code missing; // then there is nothing to lose
    const fs::path parent = file.has_parent_path() ? file.parent_path() : fs::path(".");
    if (is_ours(file.filename().string()) && fs::equivalent(parent, folder, missing)) {
      throw InputError(file.string() + ": lies in the output folder under a name this run writes; "
                                       "choose another folder with -o");
    }
  }
}

Case read_checked(const fs::path& case_file, const CaseEdit* edit) {
  Case input = read_case(case_file, edit);
  direction_1(input.problem); // throws where a direction stands upright on the surface
  return input;
}

Case with_options(Case input, const RunOptions& options) {
  if (options.fill.time_limit) {
    input.time_limit = options.fill.time_limit;
    std::erase_if(input.values,
                  [](const UsedValue& value) { return value.key == "run.time_limit"; });
  }
  if (options.fill.finer_channels) {
    std::erase_if(input.notes, is_channel_note);
  }
  input.values.insert(input.values.end(), options.values.begin(), options.values.end());
  return input;
}

FillOptions fill_options(const Case& input, const RunOptions& options) {
  FillOptions fill = options.fill;
  fill.time_limit = input.time_limit;
  return fill;
}

void print(const std::string& text) {
  std::cout << text << std::flush;
  if (!std::cout) {
    throw FileError("standard output cannot be written");
  }
}

WrittenFill fill_and_write(const Case& input, const fs::path& folder, const RunOptions& options,
                           Clock::time_point since) {
  FrontSeries series(folder, input.problem, options.frames);
  WrittenFill fill{fill_and_record(input, folder, options, series), {}, "", 0};
  const FillResult& result = fill.result;
  write_history(folder / "history.csv", input.problem, result.history);
  write_end_state(folder / "fill.vtu", input.problem,
                  {result.fill_time_field, result.pressure, result.fill_fraction, result.resin_age,
                   result.viscosity, result.temperature, result.conversion},
                  result.gate_index);
  fill.search = searched_cure(input, result, options);
  const std::chrono::duration<double> wall_time = Clock::now() - since;
  fill.summary =
      summary_text(summarise(input, result, {wall_time.count(), peak_memory()}, fill.search));
  write_text_file(folder / "summary.json", fill.summary);
  if (options.report) {
    write_text_file(folder / report_name, report_html(fill_report(input, result, fill.search)));
  }
  fill.frames = series.frames_written();
  return fill;
}

bool run_fill(const fs::path& case_file, const fs::path& folder, const RunOptions& options) {
  const Clock::time_point start = Clock::now();
  const Case input = with_options(read_checked(case_file), options);
  keep_inputs_safe(input, folder, is_output_name);
  if (interrupted()) {
    std::cerr << "Interrupted before the first step; nothing was written.\n";
    return false;
  }
  const OutputFolder held(folder, is_output_name, "fill " + case_file.string());
  held.clear();
  const WrittenFill fill = fill_and_write(input, folder, options, start);
  const WrittenPictures pictures =
      options.has_pictures ? write_pictures(folder, input, fill.result, options.pictures)
                           : WrittenPictures{};
  if (!pictures.hindrance.empty() && !options.quiet) {
    std::cerr << "No pictures: " << pictures.hindrance << ".\n";
  }
  if (const std::string names = undrawable_names(input);
      !pictures.names.empty() && !names.empty() && !options.quiet) {
    std::cerr << printable("Pictures: their fonts lack the signs " + names + ".\n");
  }
  if (options.json) {
    print(fill.summary);
  } else if (!options.quiet) {
    print(verdict_text(input, fill.result, fill.search) + "\n" +
          printable(written_text(folder, options, fill.frames, pictures)));
  }
  if (fill.result.reason == ShortReason::interrupted) {
    std::cerr << "Interrupted: the files hold the steps done so far.\n";
  }
  return fill.result.verdict == Verdict::filled;
}

bool run_sheet(const fs::path& case_file, const fs::path& folder, const RunOptions& options) {
  const Case input = with_options(read_checked(case_file), options);
  keep_inputs_safe(input, folder, is_sheet_name);
  const OutputFolder held(folder, is_sheet_name, "sheet " + case_file.string());
  held.clear();
  const std::optional<SheetFillings> fillings = fill_for_sheet(input, options);
  if (!fillings) {
    std::cerr << "Interrupted: no sheet was written.\n";
    return false;
  }
  const SetupSheet sheet = setup_sheet(input, fillings->expected, fillings->band);
  write_text_file(folder / sheet_markdown_name, sheet_markdown(sheet));
  write_text_file(folder / sheet_html_name, sheet_html(sheet));
  if (!options.quiet) {
    print(printable(sheet_told(sheet, input, fillings->expected) + "Written to " + folder.string() +
                    ": " + sheet_markdown_name + ", " + sheet_html_name + ".\n"));
  }
  return fillings->expected.verdict == Verdict::filled;
}

void run_check(const fs::path& case_file, bool quiet) {
  const Case input = read_checked(case_file);
  if (!quiet) {
    print(check_text(input));
  }
}

} // namespace tidemark
