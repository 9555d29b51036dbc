#include "io/run_record.hpp"

#include "io/digest.hpp"
#include "mesh/error.hpp"
#include "tests/support/json_text.hpp"
#include "tests/support/temporary_folder.hpp"

#include <doctest/doctest.h>

#include <sys/resource.h>

#include <algorithm>
#include <csignal>
#include <thread>

using namespace tidemark;
namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

namespace {

const RecordHeader some_header{{"command", "scatter"}, {"case", "0123"}, {"seed", "7"}};

/// What opening the record is refused with.
std::string refusal(const fs::path& file, const RecordHeader& header) {
  try {
    const RunRecord record(file, header);
  } catch (const InputError& error) {
    return error.what();
  }
  return "";
}

void write_two_runs(const fs::path& file) {
  RunRecord record(file, some_header);
  record.append(4, ordered_json_of(R"({"fill_time_s":0.1,"is_full":true})"));
  record.append(1, ordered_json_of(R"({"fill_time_s":null})"));
}

} // namespace

TEST_CASE("run record: a digest is that of the published test vectors") {
  // FNV-1a of 64 bits, test vectors of G. Fowler, L. C. Noll, K.-P. Vo (reference code; from
  // memory).
  CHECK(digest_of("") == "cbf29ce484222325");
  CHECK(digest_of("a") == "af63dc4c8601ec8c");
  CHECK(digest_of("foobar") == "85944171f73967e8");
}

TEST_CASE("run record: what was appended is found again") {
  const TemporaryFolder temporary;
  const fs::path file = temporary.path() / "runs";
  write_two_runs(file);
  const RunRecord record(file, some_header);
  REQUIRE(record.runs().size() == 2);
  CHECK(record.runs().at(1)["fill_time_s"].is_null());
  CHECK(record.runs().at(4)["fill_time_s"].get<double>() == 0.1); // to the last bit
  CHECK(read_file(file) ==
        R"({"tidemark_record":"runs","command":"scatter","case":"0123","seed":"7"}
{"run":4,"result":{"fill_time_s":0.1,"is_full":true}}
{"run":1,"result":{"fill_time_s":null}}
)");
}

TEST_CASE("run record: cut off anywhere, it holds the whole lines and goes on") {
  const TemporaryFolder temporary;
  const fs::path file = temporary.path() / "runs";
  write_two_runs(file);
  const std::string whole = read_file(file);
  for (std::size_t bytes = 0; bytes <= whole.size(); ++bytes) {
    CAPTURE(bytes);
    const std::string rest = whole.substr(0, bytes);
    const auto lines = static_cast<std::size_t>(std::ranges::count(rest, '\n'));
    write_file(file, rest);
    {
      RunRecord record(file, some_header);
      REQUIRE(record.runs().size() == (lines == 0 ? 0 : lines - 1));
      record.append(9, Json(1));
    }
    const RunRecord again(file, some_header);
    CHECK(again.runs().size() == (lines == 0 ? 1 : lines));
  }
}

TEST_CASE("run record: a last line that is nothing is dropped, another is an error") {
  const TemporaryFolder temporary;
  const fs::path file = temporary.path() / "runs";
  write_two_runs(file);
  const std::string whole = read_file(file);
  write_file(file, whole + std::string(5, '\0') + "\n");
  CHECK(RunRecord(file, some_header).runs().size() == 2);
  CHECK(read_file(file) == whole);
  write_file(file, whole + "nothing\n{\"run\":2,\"result\":1}\n");
  CHECK(refusal(file, some_header) ==
        file.string() + ":4: found \"nothing\", expected a finished run; remove the line to have "
                        "that run computed again");
}

TEST_CASE("run record: of other input it is refused, with what differs") {
  const TemporaryFolder temporary;
  const fs::path file = temporary.path() / "runs";
  write_two_runs(file);
  const std::string whole = read_file(file);
  const std::string text = refusal(file, {{"command", "scatter"}, {"case", "0123"}, {"seed", "8"}});
  CHECK(text.starts_with(file.string() + ":1: seed: found \"7\", expected \"8\""));
  CHECK(refusal(file, {{"case", "4567"}}).find("case: found \"0123\", expected \"4567\"") !=
        std::string::npos);
  // All that differs is said, in words where values tell nobody anything.
  const std::string all =
      refusal(file, {{"command", "scatter"}, {"case", "4567", "found another"}, {"steps", "30"}});
  CHECK(all.starts_with(file.string() + ":1: case: found another\n" + file.string() +
                        ":1: steps: found \"\", expected \"30\": the runs kept there belong to "
                        "what was found, this command asks for what was expected"));
  CHECK(read_file(file) == whole);
}

TEST_CASE("run record: of several results of one run the last counts") {
  const TemporaryFolder temporary;
  const fs::path file = temporary.path() / "runs";
  {
    RunRecord record(file, some_header);
    record.append(3, Json(1));
    record.append(3, Json(2));
    CHECK(record.runs().at(3) == 2);
  }
  CHECK(RunRecord(file, some_header).runs().at(3) == 2);
}

TEST_CASE("run record: a result that cannot be read is told with file and run") {
  const TemporaryFolder temporary;
  const fs::path file = temporary.path() / "runs";
  RunRecord record(file, some_header);
  record.append(3, Json(1));
  CHECK(record.told(3, [](const Json& json) { return json.get<int>(); }) == 1);
  CHECK_THROWS_WITH_AS(
      static_cast<void>(record.told(3, [](const Json&) -> int { throw InputError("found no"); })),
      (file.string() + ": run 3: found no; remove the file to begin anew").c_str(), InputError);
  CHECK_THROWS_AS(
      static_cast<void>(record.told(3, [](const Json& json) { return json.at("x").get<int>(); })),
      InputError);
}

TEST_CASE("run record: values of facts, and a digest of the program") {
  CHECK(fact_value(0.5, "m") == "0.5 m");
  CHECK(fact_value(std::nullopt, "m") == "none");
  CHECK(fact_value(std::vector<std::string>{"a", "b"}) == "a; b");
  CHECK(fact_value(std::vector<std::string>{}) == "none");
  CHECK(fact_value(true) == "yes");
  CHECK(program_digest().size() == 16);
  CHECK(program_digest().find_first_not_of("0123456789abcdef") == std::string::npos);
}

TEST_CASE("run record: another file is not written over") {
  const TemporaryFolder temporary;
  const fs::path file = temporary.path() / "notes";
  for (const char* text : {"my notes", "my notes\n", "{}\n", "[1]\n", "{\"seed\":\"7\"}\n"}) {
    CAPTURE(text);
    write_file(file, text);
    CHECK(refusal(file, some_header).find("expected the first line of a record of runs") !=
          std::string::npos);
    CHECK(read_file(file) == text);
  }
}

TEST_CASE("run record: a record that is in use, a folder and a folder that is not there") {
  const TemporaryFolder temporary;
  const fs::path file = temporary.path() / "runs";
  const RunRecord record(file, some_header);
  CHECK_THROWS_WITH_AS(RunRecord(file, some_header),
                       (file.string() + ": is in use by another run of tidemark").c_str(),
                       FileError);
  CHECK_THROWS_AS(RunRecord(temporary.path(), some_header), FileError);
  CHECK_THROWS_AS(RunRecord(temporary.path() / "no" / "runs", some_header), FileError);
}

TEST_CASE("run record: several threads append whole lines") {
  const TemporaryFolder temporary;
  const fs::path file = temporary.path() / "runs";
  {
    RunRecord record(file, some_header);
    std::vector<std::jthread> threads;
    for (std::size_t t = 0; t < 4; ++t) {
      threads.emplace_back([&record, t] {
        for (std::size_t i = 0; i < 50; ++i) {
          record.append(50 * t + i, Json(std::string(i, 'x')));
        }
      });
    }
  }
  const RunRecord record(file, some_header);
  REQUIRE(record.runs().size() == 200);
  CHECK(record.runs().at(73).get<std::string>().size() == 23);
}

TEST_CASE("run record: where there is no room the file ends with the run before") {
  const TemporaryFolder temporary;
  const fs::path file = temporary.path() / "runs";
  write_two_runs(file);
  const std::string whole = read_file(file);
  RunRecord record(file, some_header);
  rlimit usual{};
  getrlimit(RLIMIT_FSIZE, &usual);
  const rlimit tight{whole.size() + 20, usual.rlim_max};
  const auto old_handler = std::signal(SIGXFSZ, SIG_IGN);
  setrlimit(RLIMIT_FSIZE, &tight);
  bool was_refused = false;
  try {
    record.append(5, Json(std::string(100, 'x')));
  } catch (const FileError&) {
    was_refused = true;
  }
  setrlimit(RLIMIT_FSIZE, &usual);
  std::signal(SIGXFSZ, old_handler);
  CHECK(was_refused);
  CHECK(read_file(file) == whole);
  CHECK(record.runs().size() == 2);
}

TEST_CASE("Run record: runs with finer channels are not those without") {
  const TemporaryFolder folder;
  const fs::path file = folder.path() / "runs.jsonl";
  const auto header = [](const FillOptions& options) {
    RecordHeader facts{{"command", "gates"}};
    put_fill_facts(facts, Case{}, options);
    return facts;
  };
  { RunRecord(file, header({})).append(1, ordered_json_of(R"({"fill_time_s":1})")); }
  CHECK(refusal(file, header({})).empty());
  CHECK(refusal(file, header({.finer_channels = true})).find("finer channels") !=
        std::string::npos);
}
