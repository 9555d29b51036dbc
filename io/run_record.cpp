#include "io/run_record.hpp"

#include "io/digest.hpp"
#include "io/number_text.hpp"
#include "io/whole_file.hpp"
#include "io/wording.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <iterator>
#include <optional>

namespace tidemark {

namespace {

using Json = nlohmann::ordered_json;

const char* const kind_key = "tidemark_record";
const char* const kind = "runs";
const char* const parts_ending = " values";

/// One line, a text that is no UTF-8 mended.
std::string line_text(const Json& json) {
  return json.dump(-1, ' ', false, Json::error_handler_t::replace) + "\n";
}

Json header_json(const RecordHeader& header) {
  Json json;
  json[kind_key] = kind;
  for (const RecordFact& fact : header) {
    json[fact.name] = fact.value;
    if (!fact.parts.empty()) {
      json[fact.name + parts_ending] = fact.parts;
    }
  }
  return json;
}

std::string text_at(const Json& json, const std::string& name) {
  const auto found = json.find(name);
  return found != json.end() && found->is_string() ? found->get<std::string>() : "";
}

/// Not an object, or no header: nothing.
std::optional<Json> parsed(std::string_view line) {
  Json json = Json::parse(line, nullptr, false);
  return json.is_object() ? std::optional(std::move(json)) : std::nullopt;
}

/// Of the one those that are not among the others.
std::vector<std::string> without(const std::vector<std::string>& one,
                                 const std::vector<std::string>& others) {
  std::vector<std::string> rest;
  std::ranges::copy_if(one, std::back_inserter(rest), [&](const std::string& text) {
    return std::ranges::find(others, text) == others.end();
  });
  return rest;
}

std::string listed(const std::vector<std::string>& texts) {
  constexpr std::size_t longest = 4;
  std::string list;
  for (std::size_t i = 0; i < std::min(texts.size(), longest); ++i) {
    list += (list.empty() ? "" : ", ") + quoted_text(texts[i]);
  }
  if (texts.size() > longest) {
    list += " and " + std::to_string(texts.size() - longest) + " more";
  }
  return list.empty() ? "no such value" : list;
}

/// What differs between a fact and what the header of a record says.
std::string difference_of(const RecordFact& fact, const Json& found) {
  std::vector<std::string> parts;
  const auto list = found.find(fact.name + parts_ending);
  for (const Json& part : list != found.end() ? *list : Json::array()) {
    parts.push_back(part.is_string() ? part.get<std::string>() : "");
  }
  const std::vector<std::string> before = without(parts, fact.parts);
  const std::vector<std::string> now = without(fact.parts, parts);
  if (!parts.empty() && !(before.empty() && now.empty())) {
    return "found " + listed(before) + ", expected " + listed(now);
  }
  return !fact.difference.empty() ? fact.difference
                                  : "found " + quoted_text(text_at(found, fact.name)) +
                                        ", expected " + quoted_text(fact.value);
}

void check_header(const std::string& file, std::string_view line, const RecordHeader& header) {
  const auto json = parsed(line);
  if (!json || text_at(*json, kind_key) != kind) {
    throw InputError(file + ":1: found " + quoted_text(line) +
                     ", expected the first line of a record of runs");
  }
  std::vector<std::string> findings;
  for (const RecordFact& fact : header) {
    if (text_at(*json, fact.name) != fact.value) {
      findings.push_back(file + ":1: " + fact.name + ": " + difference_of(fact, *json));
    }
  }
  if (!findings.empty()) {
    findings.back() += ": the runs kept there belong to what was found, this command asks "
                       "for what was expected; go on with the former, choose another folder or "
                       "remove the file to begin anew";
    throw InputError(findings);
  }
}

/// The number and the result of a run; nothing if the line is none.
std::optional<std::pair<std::size_t, Json>> parsed_run(std::string_view line) {
  const auto json = parsed(line);
  if (!json || !json->contains("run") || !json->contains("result") ||
      !(*json)["run"].is_number_unsigned()) {
    return std::nullopt;
  }
  return std::pair{(*json)["run"].get<std::size_t>(), (*json)["result"]};
}

} // namespace

RecordHeader record_header(const std::string& command, const Case& input) {
  const auto of_file = [](const std::string& name, const std::filesystem::path& file) {
    return RecordFact{name, digest_of_file(file),
                      "found runs with other content of " + file.string() +
                          ", expected what it holds now"};
  };
  RecordFact of_case = of_file("case", input.file);
  for (const UsedValue& value : input.values) {
    of_case.parts.push_back(value.key + " = " + value.value);
  }
  return {{"command", command},
          {"version", TIDEMARK_VERSION},
          {"program", program_digest(),
           "found runs of another build of tidemark, expected those of this one"},
          std::move(of_case),
          of_file("mesh", input.mesh_file),
          input.fabrics_file ? of_file("fabrics", *input.fabrics_file)
                             : RecordFact{"fabrics", "none"}};
}

void put_fill_facts(RecordHeader& header, const Case& input, const FillOptions& options) {
  header.push_back({"steps", std::to_string(options.steps)});
  header.push_back({"time limit", fact_value(input.time_limit, "s")});
  header.push_back({"finer channels", fact_value(options.finer_channels)});
}

std::string fact_value(const std::optional<double>& number, const std::string& unit) {
  return number ? number_text(*number) + (unit.empty() ? "" : " " + unit) : "none";
}

std::string fact_value(const std::vector<std::string>& texts) {
  std::string joined;
  for (const std::string& text : texts) {
    joined += (joined.empty() ? "" : "; ") + text;
  }
  return texts.empty() ? "none" : joined;
}

std::string fact_value(bool is_so) {
  return is_so ? "yes" : "no";
}

RunRecord::RunRecord(std::filesystem::path file, const RecordHeader& header)
    : file_(std::move(file)) {
  open();
  try {
    const std::size_t whole = read(header);
    if (::ftruncate(descriptor_, static_cast<off_t>(whole)) != 0) {
      throw FileError(file_.string() + ": cannot be written: " + std::strerror(errno));
    }
    if (whole == 0) {
      write_line(line_text(header_json(header)));
    }
  } catch (...) {
    ::close(descriptor_);
    throw;
  }
}

RunRecord::~RunRecord() {
  ::close(descriptor_);
}

void RunRecord::append(std::size_t number, Json result) {
  Json line;
  line["run"] = number;
  line["result"] = result;
  const std::scoped_lock lock(mutex_);
  write_line(line_text(line));
  runs_.insert_or_assign(number, std::move(result));
}

InputError RunRecord::damaged(std::size_t number, const std::string& why) const {
  return InputError(file_.string() + ": run " + std::to_string(number) + ": " + why +
                    "; remove the file to begin anew");
}

void RunRecord::open() {
  descriptor_ = ::open(file_.c_str(), O_RDWR | O_CREAT | O_APPEND | O_CLOEXEC, 0666);
  if (descriptor_ < 0) {
    throw FileError(file_.string() + ": cannot be opened: " + std::strerror(errno));
  }
  // File systems without locks answer otherwise; there the user must see to it.
  if (::flock(descriptor_, LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK) {
    ::close(descriptor_);
    throw FileError(file_.string() + ": is in use by another run of tidemark");
  }
}

std::size_t RunRecord::read(const RecordHeader& header) {
  const std::string text = whole_file(file_);
  std::size_t start = 0;
  int number = 1;
  for (std::size_t end = text.find('\n'); end != std::string::npos;
       start = end + 1, end = text.find('\n', start), ++number) {
    const std::string_view line = std::string_view(text).substr(start, end - start);
    if (number == 1) {
      check_header(file_.string(), line, header);
    } else if (auto run = parsed_run(line)) {
      runs_.insert_or_assign(run->first, std::move(run->second));
    } else if (end + 1 == text.size()) {
      return start; // as after a loss of power
    } else {
      throw InputError(file_.string() + ":" + std::to_string(number) + ": found " +
                       quoted_text(line) +
                       ", expected a finished run; remove the line to have "
                       "that run computed again");
    }
  }
  const std::string_view rest = std::string_view(text).substr(start);
  if (number == 1 && !line_text(header_json(header)).starts_with(rest)) {
    check_header(file_.string(), rest, header); // no beginning of ours: not to be overwritten
  }
  return start;
}

void RunRecord::write_line(const std::string& line) {
  const off_t before = ::lseek(descriptor_, 0, SEEK_END);
  const ssize_t written = ::write(descriptor_, line.data(), line.size());
  if (written != static_cast<ssize_t>(line.size())) {
    const std::string why = written < 0 ? std::strerror(errno) : "no room left";
    if (::ftruncate(descriptor_, before) != 0) {
      throw FileError(file_.string() + ": cannot be written, and ends in half a line: " + why);
    }
    throw FileError(file_.string() + ": cannot be written: " + why);
  }
}

} // namespace tidemark
