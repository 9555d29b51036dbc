#include "io/history_writer.hpp"
#include "io/written_files.hpp"
#include "tests/support/sample_run.hpp"
#include "tests/support/temporary_folder.hpp"

#include <doctest/doctest.h>

#include <cstdlib>
#include <sstream>

using namespace tidemark;

namespace {

std::vector<std::string> lines_of(const std::string& text) {
  std::istringstream stream(text);
  std::vector<std::string> lines;
  for (std::string line; std::getline(stream, line);) {
    lines.push_back(line);
  }
  return lines;
}

std::string header_of(const FillProblem& problem) {
  return lines_of(history_text(problem, {}))[0];
}

} // namespace

TEST_CASE("history: one line per step under one line of names") {
  const std::vector<std::string> lines =
      lines_of(history_text(sample_case().problem, sample_result().history));
  REQUIRE(lines.size() == 4);
  CHECK(lines[0] == "time_s,filled_fraction,flow_rate_m3_per_s,head_pressure_pa,"
                    "G1_flow_rate_m3_per_s,G1_pressure_pa,V1_bled_m3,shut_in_air_m3");
  CHECK(lines[1] == "100,0.25,2.5e-05,1e+05,2.5e-05,1e+05,0,0");
}

TEST_CASE("history: air shut in, and with a mould the force that opens it") {
  FillProblem problem = sample_case().problem;
  problem.mould = Mould{Vector3::UnitZ(), 4000};
  std::vector<HistoryRow> history = trapped_air_result().history;
  history[1].opening_force = 2500;
  history[2].opening_force = -125.5;
  const std::vector<std::string> lines = lines_of(history_text(problem, history));
  REQUIRE(lines.size() == 4);
  CHECK(lines[0].ends_with(",V1_bled_m3,shut_in_air_m3,opening_force_n"));
  CHECK(lines[1].ends_with(",0,0,")); // no number is an empty field
  CHECK(lines[2].ends_with(",0,0,2500"));
  CHECK(lines[3].ends_with(",1e-07,0.00065,-125.5"));
}

TEST_CASE("history: numbers read back exactly") {
  const std::vector<std::string> lines =
      lines_of(history_text(sample_case().problem, sample_result().history));
  std::istringstream row(lines[3]);
  std::string field;
  for (int column = 0; column < 3; ++column) {
    std::getline(row, field, ',');
  }
  CHECK(std::strtod(field.c_str(), nullptr) == 1.0 / 3);
  CHECK(field == "0.3333333333333333"); // no digit more than that takes
}

TEST_CASE("history: names with commas, quotes and line breaks are quoted as in RFC 4180") {
  FillProblem problem = sample_case().problem;
  problem.gates[0].name = "left, \"low\"";
  problem.vents.clear();
  CHECK(header_of(problem) == "time_s,filled_fraction,flow_rate_m3_per_s,head_pressure_pa,"
                              "\"left, \"\"low\"\"_flow_rate_m3_per_s\","
                              "\"left, \"\"low\"\"_pressure_pa\",shut_in_air_m3");
}

TEST_CASE("history: no two columns have the same name") {
  FillProblem problem = sample_case().problem;
  problem.gates[0].name = "head"; // its pressure would hide that of the mixing head
  problem.vents.push_back(problem.vents[0]);
  CHECK(header_of(problem) == "time_s,filled_fraction,flow_rate_m3_per_s,head_pressure_pa,"
                              "head_flow_rate_m3_per_s,head_pressure_pa_2,V1_bled_m3,V1_bled_m3_2,"
                              "shut_in_air_m3");
}

TEST_CASE("history: the file holds the text, and no temporary file stays") {
  const TemporaryFolder folder;
  const FillProblem problem = sample_case().problem;
  write_history(folder.path() / "history.csv", problem, sample_result().history);
  CHECK(read_file(folder.path() / "history.csv") == history_text(problem, sample_result().history));
  CHECK(!std::filesystem::exists(temporary_name(folder.path() / "history.csv")));
}
