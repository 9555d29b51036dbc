// A file of finished runs, so that many runs that are cut off go on where they were.
#pragma once

#include "io/case_file.hpp"
#include "mesh/error.hpp"
#include "solver/filling.hpp"

#include <nlohmann/json.hpp>

#include <cstddef>
#include <filesystem>
#include <map>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace tidemark {

/// One of the things the runs of a record belong to.
struct RecordFact {
  std::string name;            // "seed"
  std::string value;           // "7", or a digest
  std::string difference = {}; // what is told where the record has another value, if values tell
                               // nobody anything: "found ..., expected ..."
  std::vector<std::string> parts = {}; // what a digest stands for, "resin.viscosity = 0.2 Pa.s":
                                       // those that differ are told instead, if any do
};

/// All the runs of one record belong to the same.
using RecordHeader = std::vector<RecordFact>;

/// Stands for what the program was made from: its sources, the compiler and its options. So a
/// program that was changed and built again does not go on from runs of the one before.
std::string program_digest();

/// The command, the program, and digests of a case's files; what else bears on the runs is to be
/// added. Throws FileError.
RecordHeader record_header(const std::string& command, const Case& input);

/// Adds how the runs are computed: steps, time limit, finer channels.
void put_fill_facts(RecordHeader& header, const Case& input, const FillOptions& options);

/// Values of facts: "2 m", and "none" where there is no number; "a; b" of several texts, "none" of
/// no text; "yes" or "no".
std::string fact_value(const std::optional<double>& number, const std::string& unit);
std::string fact_value(const std::vector<std::string>& texts);
std::string fact_value(bool is_so);

/// JSON, one line for the header and one for each finished run. Each line is handed to the system
/// in one piece when it comes, so that a program that is killed loses no finished run, and at most
/// the last line is half written: it is dropped on reading. The file is closed to others as long as
/// the record is open.
class RunRecord {
public:
  /// Opens a record or begins one. Throws InputError if the file is none, is damaged before its
  /// last line or belongs to something else (all that differs is said), FileError if it cannot be
  /// read or written or another process has it open. Of several results of one run the last counts.
  RunRecord(std::filesystem::path file, const RecordHeader& header);
  RunRecord(const RunRecord&) = delete;
  RunRecord& operator=(const RunRecord&) = delete;
  ~RunRecord();

  /// Results by the number of the run: those found in the file and those appended since. Not to be
  /// called while another thread appends.
  [[nodiscard]] const std::map<std::size_t, nlohmann::ordered_json>& runs() const { return runs_; }

  /// What a function makes of the result of a run that is there. Throws InputError with file and
  /// run if the function throws an error of JSON or of input.
  template <class Read> [[nodiscard]] auto told(std::size_t number, const Read& read) const {
    try {
      return read(runs_.at(number));
    } catch (const nlohmann::json::exception& error) {
      throw damaged(number, error.what());
    } catch (const InputError& error) {
      throw damaged(number, error.what());
    }
  }

  /// Adds the result of a run, or puts it in the place of that before. May be called by several
  /// threads at once. Throws FileError; the file then ends with the run before.
  void append(std::size_t number, nlohmann::ordered_json result);

private:
  [[nodiscard]] InputError damaged(std::size_t number, const std::string& why) const;
  void open();
  /// Returns the bytes of whole lines.
  std::size_t read(const RecordHeader& header);
  void write_line(const std::string& line);

  std::filesystem::path file_;
  int descriptor_ = -1;
  std::map<std::size_t, nlohmann::ordered_json> runs_;
  std::mutex mutex_; // of the file and runs_
};

} // namespace tidemark
