#include "tests/support/browser.hpp"

#include <fcntl.h>
#include <poll.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <csignal>
#include <stdexcept>

namespace tidemark {

namespace {

using Json = nlohmann::json;

const int longest_wait = 120000; // for an answer [ms]: a machine may be busy with other tests

// Pictures in space are drawn in software: test machines have no graphics card.
const std::vector<std::string> switches = {"--headless=new",
                                           "--no-sandbox", // tests may run as root
                                           "--remote-debugging-pipe",
                                           "--use-gl=angle",
                                           "--use-angle=swiftshader",
                                           "--enable-unsafe-swiftshader",
                                           "--disable-dev-shm-usage",
                                           "--no-first-run",
                                           "--disable-extensions",
                                           "--disable-background-networking",
                                           "--disable-component-update",
                                           "--hide-scrollbars"};

/// The protocol is spoken on the streams 3 (in) and 4 (out) of the browser.
[[noreturn]] void become_browser(std::vector<std::string> words, int input, int output) {
  const int high_input = fcntl(input, F_DUPFD, 10); // neither may lie where the other goes
  const int high_output = fcntl(output, F_DUPFD, 10);
  const int nowhere = open("/dev/null", O_RDWR);
  if (high_input < 0 || high_output < 0 || dup2(nowhere, STDOUT_FILENO) < 0 ||
      dup2(nowhere, STDERR_FILENO) < 0 || dup2(high_input, 3) < 0 || dup2(high_output, 4) < 0) {
    _exit(127);
  }
  words.insert(words.begin(), TIDEMARK_BROWSER);
  std::vector<char*> arguments;
  for (std::string& word : words) {
    arguments.push_back(word.data());
  }
  arguments.push_back(nullptr);
  execv(TIDEMARK_BROWSER, arguments.data());
  _exit(127);
}

std::array<int, 2> new_pipe() {
  std::array<int, 2> ends{};
  if (pipe2(ends.data(), O_CLOEXEC) != 0) {
    throw std::runtime_error("no pipe");
  }
  return ends;
}

Json key_event(const std::string& key, const char* type) {
  const std::string code = key == " " ? "Space" : key;
  Json event = {{"type", type}, {"key", key}, {"code", code}};
  const std::vector<std::pair<std::string, int>> numbers = {
      {"Enter", 13},     {"Tab", 9},      {" ", 32},          {"Home", 36},     {"End", 35},
      {"ArrowLeft", 37}, {"ArrowUp", 38}, {"ArrowRight", 39}, {"ArrowDown", 40}};
  for (const auto& [name, number] : numbers) {
    if (name == key) {
      event["windowsVirtualKeyCode"] = number;
    }
  }
  if (key.size() == 1) {
    event["text"] = key;
  } else if (key == "Enter") {
    event["text"] = "\r";
  }
  return event;
}

} // namespace

Browser::Browser(const std::vector<std::string>& options) {
  start(options);
  const Json targets = send("Target.getTargets")["targetInfos"];
  for (const Json& target : targets) {
    if (target["type"] == "page") {
      session_ = send("Target.attachToTarget",
                      {{"targetId", target["targetId"]}, {"flatten", true}})["sessionId"];
      break;
    }
  }
  for (const char* domain : {"Page", "Runtime", "Log", "Network"}) {
    send(std::string(domain) + ".enable");
  }
}

Browser::~Browser() {
  kill(process_, SIGTERM);
  for (int tries = 0; tries < 100; ++tries) {
    if (waitpid(process_, nullptr, WNOHANG) == process_) {
      process_ = -1;
      break;
    }
    usleep(50000);
  }
  if (process_ > 0) {
    kill(process_, SIGKILL);
    waitpid(process_, nullptr, 0);
  }
  close(to_browser_);
  close(from_browser_);
}

void Browser::start(const std::vector<std::string>& options) {
  const std::array<int, 2> in = new_pipe();
  const std::array<int, 2> out = new_pipe();
  std::vector<std::string> words = switches;
  words.push_back("--user-data-dir=" + profile_.path().string());
  words.insert(words.end(), options.begin(), options.end());
  words.emplace_back("about:blank");
  std::signal(SIGPIPE, SIG_IGN); // a browser that has gone is told by what write returns
  process_ = fork();
  if (process_ < 0) {
    throw std::runtime_error("no process");
  }
  if (process_ == 0) {
    become_browser(words, in[0], out[1]);
  }
  close(in[0]);
  close(out[1]);
  to_browser_ = in[1];
  from_browser_ = out[0];
}

Json Browser::next_message() {
  std::size_t end = 0;
  while ((end = unread_.find('\0')) == std::string::npos) {
    pollfd source{from_browser_, POLLIN, 0};
    std::array<char, 65536> bytes{};
    if (poll(&source, 1, longest_wait) <= 0) {
      throw std::runtime_error("the browser does not answer");
    }
    const ssize_t count = read(from_browser_, bytes.data(), bytes.size());
    if (count <= 0) {
      throw std::runtime_error("the browser has ended");
    }
    unread_.append(bytes.data(), static_cast<std::size_t>(count));
  }
  const Json message = Json::parse(unread_.substr(0, end));
  unread_.erase(0, end + 1);
  return message;
}

void Browser::note(const Json& message) {
  const std::string method = message.value("method", "");
  if (method == "Page.loadEventFired") {
    is_loaded_ = true;
  } else if (method == "Network.requestWillBeSent") {
    requests_.push_back(message["params"]["request"]["url"]);
  } else if (method == "Runtime.exceptionThrown") {
    complaints_.push_back(message["params"].dump());
  } else if (method == "Runtime.consoleAPICalled") {
    const std::string type = message["params"]["type"];
    if (type == "error" || type == "warning" || type == "assert") {
      complaints_.push_back(message["params"]["args"].dump());
    }
  } else if (method == "Log.entryAdded") {
    const std::string level = message["params"]["entry"]["level"];
    if (level == "error" || level == "warning") {
      complaints_.push_back(message["params"]["entry"].dump());
    }
  }
}

Json Browser::send(const std::string& method, const Json& params) {
  Json message = {{"id", ++last_id_}, {"method", method}};
  if (!params.is_null()) {
    message["params"] = params;
  }
  if (!session_.empty()) {
    message["sessionId"] = session_;
  }
  const std::string text = message.dump() + '\0';
  for (std::size_t sent = 0; sent < text.size();) {
    const ssize_t count = write(to_browser_, text.data() + sent, text.size() - sent);
    if (count <= 0) {
      throw std::runtime_error("the browser takes no commands");
    }
    sent += static_cast<std::size_t>(count);
  }
  while (true) {
    const Json answer = next_message();
    if (answer.value("id", 0) == last_id_) {
      if (answer.contains("error")) {
        throw std::runtime_error(method + ": " + answer["error"].dump());
      }
      return answer["result"];
    }
    note(answer);
  }
}

void Browser::resize(int width, int height) {
  send("Emulation.setDeviceMetricsOverride",
       {{"width", width}, {"height", height}, {"deviceScaleFactor", 1}, {"mobile", false}});
}

void Browser::open(const std::filesystem::path& file) {
  complaints_.clear();
  requests_.clear();
  is_loaded_ = false;
  send("Page.navigate", {{"url", "file://" + std::filesystem::absolute(file).string()}});
  while (!is_loaded_) {
    note(next_message());
  }
  // Two frames: what the scripts asked to be drawn has been.
  evaluate("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => "
           "done(true))))");
}

Json Browser::evaluate(const std::string& expression) {
  const Json answer =
      send("Runtime.evaluate",
           {{"expression", expression}, {"awaitPromise", true}, {"returnByValue", true}});
  if (answer.contains("exceptionDetails")) {
    throw std::runtime_error(answer["exceptionDetails"].dump());
  }
  return answer["result"].value("value", Json());
}

void Browser::press(const std::string& key) {
  send("Input.dispatchKeyEvent", key_event(key, "keyDown"));
  send("Input.dispatchKeyEvent", key_event(key, "keyUp"));
}

void Browser::click(double x, double y) {
  drag(x, y, 0, 0);
}

void Browser::drag(double x, double y, double across, double down) {
  const auto pointer = [&](const char* type, double px, double py, int buttons) {
    send("Input.dispatchMouseEvent", {{"type", type},
                                      {"x", px},
                                      {"y", py},
                                      {"button", "left"},
                                      {"buttons", buttons},
                                      {"clickCount", 1}});
  };
  pointer("mousePressed", x, y, 1);
  if (across != 0 || down != 0) {
    pointer("mouseMoved", x + across / 2, y + down / 2, 1);
    pointer("mouseMoved", x + across, y + down, 1);
  }
  pointer("mouseReleased", x + across, y + down, 0);
}

} // namespace tidemark
