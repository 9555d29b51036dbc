// Runs a fuzz target on changed copies of seed files: the same seeds and numbers, the same runs.
//   fuzz_mesh tests/meshes tests/bad_input/mesh -runs=20000 -seed=1
// The input of the run is kept in fuzz_input.bin in the working folder (-keep=NAME: another
// name) while it runs, so that after a crash it is there to be looked at.
#include <algorithm>
#include <array>
#include <charconv>
#include <chrono>
#include <cstdint>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <random>
#include <string>
#include <string_view>
#include <vector>

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);

namespace {

namespace fs = std::filesystem;

struct Arguments {
  std::vector<fs::path> seeds;
  std::uint64_t runs = 10'000;
  std::uint64_t seed = 1;
  fs::path keep = "fuzz_input.bin";
  bool good = true;
};

bool read_number(std::string_view text, std::uint64_t& number) {
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
  return error == std::errc() && end == text.data() + text.size();
}

Arguments parse(int count, char** words) {
  Arguments arguments;
  for (int i = 1; i < count; ++i) {
    const std::string_view word = words[i];
    if (word.starts_with("-runs=")) {
      arguments.good = read_number(word.substr(6), arguments.runs) && arguments.good;
    } else if (word.starts_with("-seed=")) {
      arguments.good = read_number(word.substr(6), arguments.seed) && arguments.good;
    } else if (word.starts_with("-keep=")) {
      arguments.keep = word.substr(6);
    } else if (word.starts_with('-')) {
      arguments.good = false;
    } else {
      arguments.seeds.emplace_back(word);
    }
  }
  return arguments;
}

std::string content_of(const fs::path& file) {
  std::ifstream stream(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(stream), {}};
}

std::vector<std::string> read_seeds(const std::vector<fs::path>& paths) {
  std::vector<fs::path> files;
  for (const fs::path& path : paths) {
    if (!fs::is_directory(path)) {
      files.push_back(path);
      continue;
    }
    for (const auto& entry : fs::recursive_directory_iterator(path)) {
      if (entry.is_regular_file() && entry.path().extension() != ".expected") {
        files.push_back(entry.path());
      }
    }
  }
  std::ranges::sort(files); // folders list in no particular order
  std::vector<std::string> seeds;
  for (const fs::path& file : files) {
    seeds.push_back(content_of(file));
  }
  return seeds;
}

// std::mt19937_64 gives the same numbers everywhere; the standard's distributions do not.
class Mutator {
public:
  Mutator(const std::vector<std::string>& seeds, std::uint64_t seed)
      : seeds_(seeds), random_(seed) {}

  std::string next() {
    std::string text = any_seed();
    const std::size_t changes = below(6);
    for (std::size_t i = 0; i < changes; ++i) {
      change(text);
    }
    return text;
  }

private:
  std::size_t below(std::size_t limit) { return limit == 0 ? 0 : random_() % limit; }
  const std::string& any_seed() { return seeds_[below(seeds_.size())]; }

  void change(std::string& text) {
    const std::size_t at = below(text.size() + 1);
    const std::size_t length = std::min(below(2) == 0 ? below(9) : below(200), text.size() - at);
    switch (below(9)) {
    case 0: // one bit
      if (at < text.size()) {
        text[at] = static_cast<char>(text[at] ^ (1 << below(8)));
      }
      break;
    case 1: // any byte
      if (at < text.size()) {
        text[at] = static_cast<char>(below(256));
      }
      break;
    case 2:
      text.erase(at, length);
      break;
    case 3: // a repeat
      text.insert(at, text.substr(at, length));
      break;
    case 4:
      text.insert(at, odd_piece());
      break;
    case 5:
      text.resize(at);
      break;
    case 6:
      replace_number(text, at);
      break;
    case 7:
      change_line(text, at);
      break;
    default: // the rest of another file
      text = text.substr(0, at) + tail_of(any_seed());
    }
  }

  std::string tail_of(const std::string& other) { return other.substr(below(other.size() + 1)); }

  const char* odd_piece() {
    static constexpr std::array pieces{"-1",
                                       "0",
                                       "2147483647",
                                       "-2147483648",
                                       "4294967295",
                                       "9223372036854775807",
                                       "1e308",
                                       "1e-320",
                                       "nan",
                                       "-inf",
                                       "\n",
                                       "\"",
                                       "$",
                                       " ",
                                       "\t",
                                       "\r\n",
                                       "0x10",
                                       "1.5",
                                       "''",
                                       "[[",
                                       "99999999999999999999999999",
                                       "\xff\xfe",
                                       "\xe2\x82\xac",
                                       "#",
                                       "="};
    return pieces[below(pieces.size())];
  }

  // The next number in the text becomes another one.
  void replace_number(std::string& text, std::size_t at) {
    const std::size_t start = std::min(text.find_first_of("0123456789", at), text.size());
    const std::size_t end = std::min(text.find_first_not_of("0123456789", start), text.size());
    text.replace(start, end - start,
                 below(2) == 0 ? odd_piece() : std::to_string(below(1 << below(20))));
  }

  // The line about this place goes, or comes twice.
  void change_line(std::string& text, std::size_t at) {
    const std::size_t before = at == 0 ? std::string::npos : text.rfind('\n', at - 1);
    const std::size_t start = before == std::string::npos ? 0 : before + 1;
    const std::size_t end = std::min(text.find('\n', at), text.size());
    if (below(2) == 0) {
      text.erase(start, end - start);
    } else {
      text.insert(start, text.substr(start, end - start) + "\n");
    }
  }

  const std::vector<std::string>& seeds_;
  std::mt19937_64 random_;
};

// Closed before the run: a crash must find the file whole.
bool keep_input(const fs::path& file, const std::string& text) {
  std::ofstream stream(file, std::ios::binary);
  stream.write(text.data(), static_cast<std::streamsize>(text.size()));
  stream.close();
  return !stream.fail();
}

void run_one(const std::string& text) {
  // A copy that ends where it ends: reading past it is seen by the address sanitizer.
  const std::vector<std::uint8_t> data(text.begin(), text.end());
  LLVMFuzzerTestOneInput(data.data(), data.size());
}

} // namespace

int main(int count, char** words) {
  const Arguments arguments = parse(count, words);
  const std::vector<std::string> seeds = read_seeds(arguments.seeds);
  if (!arguments.good || seeds.empty()) {
    std::fprintf(stderr, "usage: %s SEED_FILE_OR_FOLDER... [-runs=N] [-seed=N] [-keep=FILE]\n",
                 words[0]);
    return 2;
  }
  const auto start = std::chrono::steady_clock::now();
  Mutator mutator(seeds, arguments.seed);
  double slowest = 0;
  for (std::uint64_t run = 0; run < seeds.size() + arguments.runs; ++run) {
    // The seeds as they are come first.
    const std::string text = run < seeds.size() ? seeds[run] : mutator.next();
    if (!keep_input(arguments.keep, text)) {
      std::fprintf(stderr, "%s cannot be written\n", arguments.keep.c_str());
      return 4;
    }
    const auto run_start = std::chrono::steady_clock::now();
    run_one(text);
    const std::chrono::duration<double> taken = std::chrono::steady_clock::now() - run_start;
    slowest = std::max(slowest, taken.count());
  }
  fs::remove(arguments.keep);
  const std::chrono::duration<double> taken = std::chrono::steady_clock::now() - start;
  std::printf("%llu runs on %zu seeds in %.1f s, the slowest %.3f s\n",
              static_cast<unsigned long long>(arguments.runs), seeds.size(), taken.count(),
              slowest);
  return 0;
}
