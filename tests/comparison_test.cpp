// Runs side by side: marks, sums over the part worked out by hand, files.
#include "io/comparison.hpp"
#include "io/comparison_report.hpp"
#include "io/comparison_text.hpp"
#include "io/comparison_writer.hpp"
#include "tests/support/sample_run.hpp"
#include "tests/support/says.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <string>
#include <vector>

using namespace tidemark;

namespace {

using Positions = std::vector<std::size_t>;

ComparedRun full_run(const std::string& name, double fill_time, double mass) {
  ComparedRun run;
  run.name = name;
  run.title = "Part";
  run.case_file = "part.toml";
  run.state = RunState::filled;
  run.figures.fill_time = fill_time;
  run.figures.end_time = fill_time;
  run.figures.filled_fraction = 1;
  run.figures.peak_head_pressure = 1e5;
  run.figures.peak_till_near_end = 1e5;
  run.figures.resin_in_part = 0.002;
  run.figures.part_mass.value = mass;
  return run;
}

ComparedRun short_run(const std::string& name, double mass) {
  ComparedRun run = full_run(name, 1, mass);
  run.state = RunState::short_fill;
  run.reason = "gel";
  run.figures.fill_time.reset();
  run.figures.filled_fraction = 0.8;
  run.figures.resin_in_part = 0.001;
  return run;
}

const Figure& figure(const std::string& key) {
  for (const Figure& one : compared_figures()) {
    if (key == one.key) {
      return one;
    }
  }
  FAIL("no such figure");
  return compared_figures().front();
}

Positions best(const std::vector<ComparedRun>& runs, const std::string& key) {
  return best_runs(runs, figure(key));
}

} // namespace

TEST_CASE("comparison: the highest head of several pumps is compared, and named") {
  Case input = sample_case();
  input.layups.resize(input.problem.regions.size());
  FillResult result = sample_result();
  CHECK(figures_of(input, result).head.empty());
  input.problem.gates.push_back(input.problem.gates[0]);
  input.problem.gates[1].name = "G2";
  input.problem.gates[1].own_injector = Injector{1e-5, 3e5};
  result.gates.push_back({"G2", 1e-3, 2.9e5, 0, 600, {50, 550}});
  for (HistoryRow& row : result.history) {
    row.head_pressure = 1e5;
    row.gates = {{1e-5, 1e5, 1e5}, {1e-5, 2.9e5, 3e5}};
  }
  ComparedRun run = full_run("a", 600, 1);
  run.figures = figures_of(input, result);
  CHECK(run.figures.peak_head_pressure == 3e5);
  CHECK(run.figures.time_at_cap == 50);
  CHECK(says(comparison_text({run, full_run("b", 700, 1)}),
             "Run 1: Head peak and time at the cap are those of the pump of gate G2.\n"));
  CHECK(comparison_json({run})["runs"][0]["highest_head"] == "the pump of gate G2");
}

TEST_CASE("comparison: the lowest figure of the runs that fill is best") {
  const std::vector<ComparedRun> runs{full_run("a", 300, 5), full_run("b", 200, 6),
                                      full_run("c", 400, 4)};
  CHECK(best(runs, "fill_time_s") == Positions{1});
  CHECK(best(runs, "part_mass_kg") == Positions{2});
}

TEST_CASE("comparison: runs that print alike share the mark, unless all do") {
  // 200.4 s and 199.6 s are both 3:20 min to three digits.
  const std::vector<ComparedRun> runs{full_run("a", 200.4, 5), full_run("b", 300, 5),
                                      full_run("c", 199.6, 5)};
  CHECK(best(runs, "fill_time_s") == Positions{0, 2});
  CHECK(best(runs, "part_mass_kg").empty());
  CHECK(best({full_run("a", 300, 5), full_run("b", 400, 5), short_run("c", 6)}, "part_mass_kg")
            .empty());
}

TEST_CASE("comparison: the page begins with how many fill and which are fastest as times print") {
  const auto headline = [](const std::vector<ComparedRun>& runs) {
    return comparison_report(runs, {}).headline;
  };
  const ComparedRun a = full_run("a", 200.4, 5);
  const ComparedRun b = full_run("b", 300, 5);
  const ComparedRun c = full_run("c", 199.6, 5);
  const ComparedRun d = short_run("d", 5);
  CHECK(headline({a, b}) == "Both runs fill the part. The fastest is \"a\", in about 3:20 min.");
  CHECK(headline({a, c}) == "Both runs fill the part, each in about 3:20 min.");
  CHECK(headline({a, b, c}) ==
        "All 3 runs fill the part. The fastest are \"a\" and \"c\", in about 3:20 min.");
  CHECK(headline({d, b}) == "1 of 2 runs fills the part: \"b\", in about 5:00 min.");
  CHECK(headline({d, b, c}) ==
        "2 of 3 runs fill the part. The fastest is \"c\", in about 3:20 min.");
  CHECK(headline({d, a, c}) ==
        "2 of 3 runs fill the part: \"a\" and \"c\", each in about 3:20 min.");
  CHECK(headline({d, d}) == "Neither run fills the part.");
  CHECK(headline({d, d, d}) == "None of the 3 runs fills the part.");
}

TEST_CASE("comparison: a short run is never best, nor one that failed or did not run") {
  ComparedRun failed = full_run("failed", 1, 1);
  failed.state = RunState::failed;
  ComparedRun not_run = full_run("not run", 1, 1);
  not_run.state = RunState::not_run;
  const std::vector<ComparedRun> runs{short_run("short", 1), full_run("full", 900, 9), failed,
                                      not_run};
  for (const char* key : {"fill_time_s", "peak_head_pressure_pa", "time_at_cap_s",
                          "resin_in_part_m3", "part_mass_kg"}) {
    CHECK(best(runs, key) == Positions{1});
  }
  const std::vector<ComparedRun> all_short{short_run("a", 1), short_run("b", 2)};
  CHECK(best(all_short, "resin_in_part_m3").empty());
  CHECK(best(all_short, "part_mass_kg").empty());
}

TEST_CASE("comparison: a run that opens the mould is told so, and never best") {
  std::vector<ComparedRun> runs{full_run("a", 300, 5), full_run("b", 200, 4), short_run("c", 1)};
  runs[0].figures.peak_force = 5e3;
  runs[1].figures.peak_force = 9e3;
  runs[1].figures.opens_mould = true;
  runs[2].figures.opens_mould = true;
  CHECK(best(runs, "fill_time_s") == Positions{0});
  CHECK(best(runs, "part_mass_kg") == Positions{0});
  const std::string text = comparison_text(runs);
  CHECK(says(text, "opens    "));
  CHECK(says(text, "short: gel, 80.0 %; opens"));
  CHECK(says(text, "opening force"));
  CHECK(says(text, "9.00 kN"));
  CHECK(says(text, "opens: the mould is pushed open. Such a run is best at nothing.\n"));
  const auto json = comparison_json(runs);
  CHECK(json["runs"][0]["opens_mould"] == false);
  CHECK(json["runs"][1]["opens_mould"] == true);
  CHECK(json["runs"][1]["peak_opening_force_n"] == 9e3);
  runs[0].figures.opens_mould = true;
  CHECK(best(runs, "fill_time_s").empty());
  CHECK(!says(comparison_text({full_run("a", 300, 5)}), "opens"));
}

TEST_CASE("comparison: no mark where a run that fills lacks the figure or leaves out cores") {
  std::vector<ComparedRun> runs{full_run("a", 300, 5), full_run("b", 200, 6),
                                short_run("short", 1)};
  CHECK(best(runs, "cost").empty());
  runs[2].figures.part_mass.value.reset(); // of the short run: does not matter
  CHECK(best(runs, "part_mass_kg") == Positions{0});
  runs[0].figures.part_mass.left_out = {"no density of the core in region skin"};
  CHECK(best(runs, "part_mass_kg").empty());
  runs[1].figures.part_mass.left_out = {"no density of the core in region skin"};
  CHECK(best(runs, "part_mass_kg") == Positions{0});
  runs[1].figures.part_mass = {std::nullopt, {}, {"no density of the resin"}};
  CHECK(best(runs, "part_mass_kg").empty());
}

TEST_CASE("comparison: fields of CSV by RFC 4180") {
  CHECK(csv_field("plain text; 4 mm") == "plain text; 4 mm");
  CHECK(csv_field("a, b") == "\"a, b\"");
  CHECK(csv_field("mesh = \"x\"") == "\"mesh = \"\"x\"\"\"");
  CHECK(csv_field("one\ntwo") == "\"one\ntwo\"");
  CHECK(csv_field("one\rtwo") == "\"one\rtwo\"");
  CHECK(csv_field("").empty());
}

TEST_CASE("comparison: a push that climbs to a height that is not known is marked") {
  std::vector<ComparedRun> runs{full_run("a", 300, 5), full_run("b", 300, 5)};
  runs[0].figures.peak_force = 3e3;
  runs[1].figures.peak_force = 2e3;
  CHECK(!says(comparison_text(runs), "kN ?"));
  runs[1].figures.push_climbs = true;
  const std::string text = comparison_text(runs);
  CHECK(says(text, "3.00 kN  "));
  CHECK(says(text, "2.00 kN ?"));
  CHECK(says(text, "\n?: the push climbs while the last 1 % fills"));
}

TEST_CASE("comparison: peaks of the last cells get a column beside them") {
  std::vector<ComparedRun> runs{full_run("a", 300, 5), full_run("b", 300, 5)};
  CHECK(!says(comparison_text(runs), "till 99 %"));
  runs[1].figures.peak_head_pressure = 3e5;
  const std::string text = comparison_text(runs);
  CHECK(says(text, "head peak   till 99 %  at the cap"));
  CHECK(says(text, "\ntill 99 %: head peak until 99 % of the resin is in."));
}

TEST_CASE("comparison: what a run does not have is empty in CSV and null in JSON") {
  ComparedRun failed;
  failed.name = "odd, \"very\"";
  failed.state = RunState::failed;
  failed.error = "no rest\nafter 3 s";
  const std::vector<ComparedRun> runs{full_run("a", 300, 5), failed};
  const std::string csv = comparison_csv(runs);
  CHECK(csv.starts_with("run,name,try,case_file,verdict,reason,fill_time_s,end_time_s,"));
  CHECK(says(csv, "\n1,a,,part.toml,filled,,300,300,1,1e+05,1e+05,0,,,,0.002,,0,,,5,,,,,,,,,"));
  CHECK(says(csv, ",fill_time_s peak_head_pressure_pa peak_head_pressure_till_99_percent_pa "
                  "time_at_cap_s resin_in_part_m3 part_mass_kg,\n"));
  CHECK(says(
      csv, "\n2,\"odd, \"\"very\"\"\",,,failed,,,,,,,,,,,,,,,,,,,,,,,,,,\"no rest\nafter 3 s\"\n"));
  const auto json = comparison_json(runs);
  CHECK(json["runs"][0]["fill_time_s"] == 300);
  CHECK(json["runs"][0]["cost"].is_null());
  CHECK(json["runs"][1]["fill_time_s"].is_null());
  CHECK(json["runs"][1]["verdict"] == "failed");
  CHECK(json["runs"][0].size() == json["runs"][1].size());
  CHECK(json["runs"][1]["best"].empty());
}

TEST_CASE("comparison: the tables tell reasons, marks and what is left out") {
  ComparedRun cored = full_run("cored", 100, 7);
  cored.figures.part_mass.left_out = {"no density of the core in region skin"};
  std::vector<ComparedRun> runs{full_run("as it is", 300, 5), cored, short_run("late", 6)};
  runs[1].tried = "cored: region.skin.thickness = 9 mm";
  runs[1].warnings = runs[2].warnings = {"It is odd."};
  const std::string text = comparison_text(runs);
  CHECK(text.starts_with("Part: 3 runs compared\n\n  1  as it is\n  2  cored: region.skin"));
  CHECK(says(text, "1:40 min *"));
  CHECK(says(text, "short: gel, 80.0 %"));
  CHECK(says(text, "7.00 kg without cores\n"));
  CHECK(!says(text, "kg *"));
  CHECK(!says(text, "cost"));
  CHECK(says(text, "Run 2: The part mass is without cores: no density of the core in region "
                   "skin.\n"));
  CHECK(says(text, "Runs 2, 3: Warning: It is odd.\n"));
}

TEST_CASE("comparison: what bleeds is set beside the resin, and till when") {
  std::vector<ComparedRun> runs{full_run("one", 100, 1), full_run("two", 100, 1)};
  CHECK(!says(comparison_text(runs), "bled"));
  runs[1].figures.bled = 5e-5;
  runs[1].figures.end_time = 825;
  const std::string text = comparison_text(runs);
  CHECK(says(text, "  bled  "));
  CHECK(says(text, "50.0 mL"));
  CHECK(says(text, "Run 2: Vents bleed on in the full part till 13:45 min.\n"));
}
