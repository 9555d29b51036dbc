// A file of finished runs, so that many runs that are cut off go on where they were.
#pragma once

#include "io/case_file.hpp"

#include <nlohmann/json.hpp>

#include <cstddef>
#include <filesystem>
#include <map>
#include <mutex>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace tidemark {

/// What the runs belong to, name and value: {"command", "scatter"}, {"case", digest of its
/// content}, {"seed", "7"}. Runs of one record all belong to the same.
using RecordHeader = std::vector<std::pair<std::string, std::string>>;

/// Sixteen hexadecimal digits that stand for a text: FNV-1a of 64 bits. Against mistakes, not
/// against malice. Source: Fowler, Noll, Vo.
std::string digest_of(std::string_view text);

/// The digest of a file's content. Throws FileError.
std::string digest_of_file(const std::filesystem::path& file);

/// The command, the version of the program, and digests of a case's files; what else bears on the
/// runs is to be added. Throws FileError.
RecordHeader record_header(const std::string& command, const Case& input);

/// JSON, one line for the header and one for each finished run. Each line is handed to the system
/// in one piece when it comes, so that a program that is killed loses no finished run, and at most
/// the last line is half written: it is dropped on reading. The file is closed to others as long as
/// the record is open.
class RunRecord {
public:
  /// Opens a record or begins one. Throws InputError if the file is none, is damaged before its
  /// last line or belongs to something else (which of the header differs is said), FileError if it
  /// cannot be read or written or another process has it open.
  RunRecord(std::filesystem::path file, const RecordHeader& header);
  RunRecord(const RunRecord&) = delete;
  RunRecord& operator=(const RunRecord&) = delete;
  ~RunRecord();

  /// Results by the number of the run: those found in the file and those appended since. Not to be
  /// called while another thread appends.
  [[nodiscard]] const std::map<std::size_t, nlohmann::ordered_json>& runs() const { return runs_; }

  /// Adds the result of a run. May be called by several threads at once. Throws FileError; the file
  /// then ends with the run before.
  void append(std::size_t number, nlohmann::ordered_json result);

private:
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
