#include "io/scatter_command.hpp"

#include "io/field_writer.hpp"
#include "io/interrupt.hpp"
#include "io/json_values.hpp"
#include "io/many_fills.hpp"
#include "io/output_folder.hpp"
#include "io/parallel.hpp"
#include "io/run_counter.hpp"
#include "io/run_record.hpp"
#include "io/scatter_report.hpp"
#include "io/scatter_writer.hpp"
#include "io/spoken.hpp"
#include "io/wording.hpp"
#include "mesh/error.hpp"

#include <unistd.h>

#include <algorithm>
#include <exception>
#include <iostream>
#include <memory>
#include <utility>

namespace tidemark {

namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

bool is_input_name(std::string_view name) {
  return is_scatter_name(name) || name == scatter_record_name;
}

struct PreparedScatter {
  Case input;
  ScatterPlan plan;
  std::unique_ptr<OutputFolder> held; // the leader's, as the record
  std::unique_ptr<RunRecord> record;
};

/// Everything that bears on the results.
RecordHeader header_of(const Case& input, const ScatterPlan& plan, const ScatterOptions& options) {
  RecordHeader header = record_header("scatter", input);
  header.push_back({"samples", std::to_string(plan.samples)});
  header.push_back({"seed", std::to_string(plan.seed)});
  put_fill_facts(header, input, options.run.fill);
  header.push_back({"volume that may stay dry", fact_value(options.allowed, "m3")});
  return header;
}

ScatterSample sample_of(std::size_t number, const RunRecord& record, const Case& input,
                        const ScatterPlan& plan) {
  return record.told(number, [&](const Json& result) {
    if (number > plan.samples) {
      throw InputError("expected a number from 0 to " + std::to_string(plan.samples) +
                       ", as there are samples");
    }
    return from_record(number, result, input);
  });
}

/// Only the leader touches files.
PreparedScatter prepare(const ScatterOptions& options, const ProcessTeam& team) {
  if (team.size() > 1 && options.threads) {
    throw InputError("scatter: found --threads with " + std::to_string(team.size()) +
                     " processes, expected one of the two: each process fills one sample at a "
                     "time");
  }
  PreparedScatter prepared{with_options(read_checked(options.case_file), options.run), {}, {}, {}};
  const ScatterFacts& facts = prepared.input.scatter;
  prepared.plan = plan_scatter(prepared.input,
                               static_cast<std::size_t>(options.samples.value_or(facts.samples)),
                               static_cast<std::uint64_t>(options.seed.value_or(facts.seed)));
  if (team.rank() == 0) {
    keep_inputs_safe(prepared.input, options.folder, is_input_name);
    prepared.held = std::make_unique<OutputFolder>(options.folder, is_scatter_name,
                                                   "scatter " + options.case_file.string());
    prepared.record = std::make_unique<RunRecord>(
        options.folder / scatter_record_name, header_of(prepared.input, prepared.plan, options));
    for (const auto& run : prepared.record->runs()) { // throws where one is damaged
      sample_of(run.first, *prepared.record, prepared.input, prepared.plan);
    }
    prepared.held->clear(); // once it is sure that this can begin
  }
  return prepared;
}

/// The case as it is, number 0, and all samples; without those done before.
std::vector<std::size_t> numbers_left(const RunRecord& record, const ScatterPlan& plan) {
  std::vector<std::size_t> left;
  for (std::size_t number = 0; number <= plan.samples; ++number) {
    const auto done = record.runs().find(number);
    if (done == record.runs().end() || may_be_tried_again(done->second)) {
      left.push_back(number);
    }
  }
  return left;
}

/// Nothing of what is done before is done again.
void compute_all(PreparedScatter& prepared, const ScatterOptions& options,
                 const ProcessTeam& team) {
  const auto goes_on = [] { return !interrupted(); };
  ManyFills fills;
  if (prepared.record) {
    fills.numbers = numbers_left(*prepared.record, prepared.plan);
  }
  fills.threads = options.threads.value_or(core_count());
  fills.goes_on = goes_on;
  fills.work = [&](std::size_t number) -> std::optional<std::string> {
    const auto sample = computed_sample(prepared.input, prepared.plan, number, options.run.fill,
                                        goes_on, options.allowed);
    return sample ? std::optional(
                        to_record(*sample).dump(-1, ' ', false, Json::error_handler_t::replace))
                  : std::nullopt;
  };
  const bool is_shown = team.rank() == 0 && !options.run.quiet;
  const std::size_t before = prepared.plan.samples + 1 - fills.numbers.size();
  if (is_shown && before > 0) {
    std::cerr << "Going on: " << before << " of " << prepared.plan.samples + 1
              << " fillings were done before.\n";
  }
  RunCounter counter(fills.numbers.size(), "fillings", is_shown && isatty(STDERR_FILENO) == 1);
  fills.take = [&](std::size_t number, const std::string& text) {
    prepared.record->append(number, Json::parse(text));
    counter.count_one();
  };
  run_many(team, fills);
}

ScatterOutcome outcome_of(const PreparedScatter& prepared, double allowed) {
  ScatterOutcome outcome;
  outcome.wanted = prepared.plan.samples;
  outcome.seed = prepared.plan.seed;
  outcome.allowed = allowed;
  for (const auto& run : prepared.record->runs()) {
    ScatterSample sample = sample_of(run.first, *prepared.record, prepared.input, prepared.plan);
    if (run.first == 0) {
      outcome.as_it_is = std::move(sample);
    } else {
      outcome.samples.push_back(std::move(sample));
    }
  }
  outcome.summary = summarise_scatter(prepared.input, outcome.samples);
  return outcome;
}

void write_all(const Case& input, const ScatterOutcome& outcome, const ScatterOptions& options) {
  const std::string json = scatter_json(input, outcome);
  write_text_file(options.folder / "scatter.csv", scatter_csv(input, outcome));
  write_node_fields(options.folder / "scatter.vtu", input.problem,
                    {{"dry_probability", outcome.summary.dry_probability},
                     {"late_probability", outcome.summary.late_probability}});
  if (options.run.report) {
    write_text_file(options.folder / scatter_report_name,
                    report_html(scatter_report(input, outcome)));
  }
  write_text_file(options.folder / "scatter.json", json);
  if (options.run.json) {
    print(json);
  } else if (!options.run.quiet) {
    print(printable(scatter_text(input, outcome) + "\nWritten to " + options.folder.string() +
                    ": scatter.json, scatter.csv, scatter.vtu" +
                    (options.run.report ? ", " + std::string(scatter_report_name) : "") + ".\n"));
  }
}

RunsEnd end_of(const ScatterOutcome& outcome) {
  const auto is = [](SampleState state) {
    return [state](const ScatterSample& sample) { return sample.state == state; };
  };
  if (outcome.samples.size() < outcome.wanted) {
    return RunsEnd::some_short;
  }
  if (std::ranges::any_of(outcome.samples, is(SampleState::failed))) {
    return RunsEnd::some_failed;
  }
  return std::ranges::all_of(outcome.samples, is(SampleState::filled)) ? RunsEnd::as_wished
                                                                       : RunsEnd::some_short;
}

/// The record has served once the files hold everything; without one the next run begins anew.
void close_record(PreparedScatter& prepared, const fs::path& folder) {
  const fs::path file = folder / scatter_record_name;
  const std::size_t wanted = prepared.plan.samples + 1;
  const bool is_cut_off = prepared.record->runs().size() < wanted;
  const std::size_t left = numbers_left(*prepared.record, prepared.plan).size();
  prepared.record.reset();
  std::error_code stays; // then the next run has nothing left to compute
  if (left == 0) {
    fs::remove(file, stays);
  } else if (is_cut_off) {
    std::cerr << "Cut off: the files hold what was done so far; the same command goes on from "
              << file.string() << ".\n";
  } else {
    std::cerr << "Out of memory in " << counted(left, "filling", "fillings")
              << ": the same command tries again; with fewer at once each has more. The others are "
                 "kept in "
              << file.string() << ".\n";
  }
}

} // namespace

RunsEnd run_scatter(const ScatterOptions& options) {
  const ProcessTeam team;
  PreparedScatter prepared;
  std::exception_ptr failure;
  try {
    prepared = prepare(options, team);
  } catch (...) {
    failure = std::current_exception();
  }
  if (const auto unready = team.first_unready(!failure)) {
    if (*unready == team.rank()) {
      std::rethrow_exception(failure);
    }
    return RunsEnd::as_wished;
  }
  compute_all(prepared, options, team);
  if (team.rank() != 0) {
    return RunsEnd::as_wished;
  }
  const ScatterOutcome outcome = outcome_of(prepared, options.allowed);
  write_all(prepared.input, outcome, options);
  close_record(prepared, options.folder);
  return end_of(outcome);
}

} // namespace tidemark
