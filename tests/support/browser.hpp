// A headless browser that opens a page from the disk, is used by keys and pointer, and tells what
// it sees. Speaks the DevTools protocol of Chromium over a pair of pipes.
#pragma once

#include "tests/support/temporary_folder.hpp"

#include <nlohmann/json.hpp>

#include <filesystem>
#include <string>
#include <vector>

namespace tidemark {

class Browser {
public:
  /// options: more switches for the browser.
  explicit Browser(const std::vector<std::string>& options = {});
  Browser(const Browser&) = delete;
  Browser& operator=(const Browser&) = delete;
  ~Browser();

  /// The window's inner size, in pixels of CSS.
  void resize(int width, int height);
  /// Loads a file and waits until it and what its scripts do at once is done.
  void open(const std::filesystem::path& file);
  /// The value of an expression in the page; an awaited promise's if it is one. Throws
  /// std::runtime_error with what the page throws.
  nlohmann::json evaluate(const std::string& expression);
  /// Presses and lets go a key: "ArrowLeft", "Enter", "Tab", " ", "p".
  void press(const std::string& key);
  void click(double x, double y);
  void drag(double x, double y, double across, double down);
  /// Sends a command of the protocol; its result.
  nlohmann::json send(const std::string& method, const nlohmann::json& params = nullptr);

  /// Errors and warnings of the console, and exceptions, since the page was opened.
  [[nodiscard]] const std::vector<std::string>& complaints() const { return complaints_; }
  /// Addresses asked for since then.
  [[nodiscard]] const std::vector<std::string>& requests() const { return requests_; }

private:
  void start(const std::vector<std::string>& options);
  nlohmann::json next_message();
  void note(const nlohmann::json& message);

  TemporaryFolder profile_;
  int process_ = -1;
  int to_browser_ = -1;
  int from_browser_ = -1;
  int last_id_ = 0;
  std::string session_;
  std::string unread_;
  bool is_loaded_ = false;
  std::vector<std::string> complaints_;
  std::vector<std::string> requests_;
};

} // namespace tidemark
