// A place in the content of a Gmsh MSH file that moves on as values are read, and that can say
// where it is. Numbers are ASCII or binary; headings and names are always text.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

namespace tidemark {

class MshCursor {
public:
  /// The content must outlive the cursor. The file's name is for messages only.
  MshCursor(std::string_view content, std::string file_name);

  /// From here on numbers are binary, with their bytes the other way round if swapped.
  void set_binary(bool swapped);
  [[nodiscard]] bool is_binary() const { return binary_; }

  /// Throws InputError "file: line 12: text" (ASCII) or "file: byte 340: text" (binary) for the
  /// value read last.
  [[noreturn]] void fail(const std::string& text) const;

  /// Said behind every error until changed: "(node 5 of 8)". The noun must be a literal.
  void set_context(const char* noun, std::size_t number, std::size_t count) {
    context_noun_ = noun;
    context_number_ = number;
    context_count_ = count;
  }
  void clear_context() { context_noun_ = nullptr; }

  /// Text: skips white space; true if nothing follows.
  bool at_end();
  /// Text: the next word, which may be on a later line.
  std::string_view word(std::string_view what);
  /// Text: the rest of the line, without its end.
  std::string_view rest_of_line();
  /// Text: a whole number in the limits of an int, on this line.
  std::int64_t text_integer(std::string_view what);
  /// Text: nothing may follow on this line, whose end is skipped.
  void end_text_line();
  /// Text: moves behind the next occurrence of `text`; false (and no move) if there is none.
  bool skip_past(std::string_view text);
  /// Raw bytes, e.g. the number that tells the byte order.
  std::string_view bytes(std::size_t count, std::string_view what);

  /// ASCII: moves to the next line that has something on it. Binary: nothing.
  void begin_record();
  /// ASCII: nothing may follow on this line. Binary: nothing.
  void end_record();
  /// A whole number of 32 bits.
  std::int64_t integer(std::string_view what);
  /// A whole number of 64 bits, not negative.
  std::int64_t size(std::string_view what);
  /// A finite number of 64 bits.
  double real(std::string_view what);
  /// The same, or one that is not finite ("nan", "inf").
  double any_real(std::string_view what);
  /// Moves over numbers of 64 bits that are not needed and may be anything.
  void skip_reals(std::size_t count, std::string_view what);
  /// Throws unless the rest of the file can hold `count` records of at least so many numbers
  /// or bytes each: a count that lies must not make us allocate.
  std::size_t checked_count(std::int64_t count, std::size_t numbers_each, std::size_t bytes_each,
                            std::string_view what) const;

private:
  void skip_blanks();
  std::string_view token(std::string_view what);
  template <class T> T raw(std::string_view what);
  std::int64_t parsed_integer(std::string_view what, std::int64_t lowest, std::int64_t highest);

  std::string_view content_;
  std::string file_name_;
  std::size_t position_ = 0;
  std::size_t value_start_ = 0; // of the value read last
  bool binary_ = false;
  bool swapped_ = false;
  const char* context_noun_ = nullptr;
  std::size_t context_number_ = 0;
  std::size_t context_count_ = 0;
};

/// Text from a file, in quotes, cut to a readable length and with strange bytes as "?".
std::string in_quotes(std::string_view text);

} // namespace tidemark
