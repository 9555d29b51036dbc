// The reports of compare and gates as a person uses them.
#include "tests/browser/page_use.hpp"
#include "tests/support/program.hpp"

#include <doctest/doctest.h>

#include <string>
#include <vector>

using namespace tidemark;
using Json = nlohmann::json;

namespace {

const std::string strip =
    (std::filesystem::path(TIDEMARK_SOURCE_DIR) / "cases/strip-with-cap/strip.toml").string();

struct OpenPage {
  TemporaryFolder folder;
  Browser browser;
  OpenPage(std::vector<std::string> arguments, const std::string& name) {
    arguments.insert(arguments.end(), {"-o", "out", "--quiet", "--steps", "50"});
    REQUIRE(run_program(folder.path(), arguments).exit_code <= 1);
    browser.resize(1200, 900);
    browser.open(folder.path() / "out" / name);
  }
};

} // namespace

// At half the flow, 1e-6 m3/s, the strip of cases/strip-with-cap never comes to its cap (the front
// would be at 1.2 m) and fills in 0.96e-3 m3 / 1e-6 m3/s = 960 s; with the flow of the case half of
// it is full at 240 s.
TEST_CASE("compare in a browser: one slider and one scale for all, and they turn together") {
  OpenPage page({"compare", strip, "--try", "slow: injector.flow_rate = 0.06 L/min"},
                "compare.html");
  Browser& browser = page.browser;
  CHECK(browser.complaints() == std::vector<std::string>{});
  CHECK(browser.requests().size() == 1);
  CHECK(
      says(text_of(browser, ".headline"), "All 2 runs fill the part. The fastest is \"as it is\""));
  CHECK(says(text_of(browser, ".stages"), "slow fills in 16:00 min"));
  leave_only_colours(browser);
  const double all = coloured(picture(browser, 0));
  REQUIRE(all > 500);
  CHECK(coloured(picture(browser, 1)) == doctest::Approx(all).epsilon(0.01));
  // At the end the fast one has come to 544 s of the 960 s of the scale only: other colours.
  CHECK(picture(browser, 0) != picture(browser, 1));
  set_slider(browser, 250);
  CHECK(says(text_of(browser, ".told"), "4:00 min"));
  CHECK(coloured(picture(browser, 0)) / all == doctest::Approx(0.5).epsilon(0.15));
  CHECK(coloured(picture(browser, 1)) / all == doctest::Approx(0.25).epsilon(0.2));

  const Json before = picture(browser, 1);
  browser.evaluate("document.querySelector('.stage canvas').focus()");
  browser.press("ArrowLeft");
  CHECK(picture(browser, 1) != before);
  CHECK(faults_for_people(browser) == "");
}

TEST_CASE("gates in a browser: the map of places, the layouts and their fillings") {
  OpenPage page({"gates", strip, "--radius", "8 mm", "--spacing", "50 mm", "--best", "1"},
                "gates.html");
  Browser& browser = page.browser;
  CHECK(browser.complaints() == std::vector<std::string>{});
  CHECK(browser.requests().size() == 1);
  CHECK(browser.evaluate("document.querySelectorAll('.stage canvas[tabindex]').length") == 3);
  CHECK(browser.evaluate("document.querySelectorAll('#panel-0 input[type=range]').length") == 0);
  CHECK(browser.evaluate("document.querySelectorAll('#panel-1 input[type=range]').length") == 1);
  CHECK(says(text_of(browser, "#panel-0 .legend"), "Fill time if the gate were here, min:s"));
  CHECK(coloured(picture(browser, 0)) > 1000);
  const Point middle = middle_of(browser, "#panel-0 .stage canvas");
  browser.click(middle.x, middle.y);
  const std::string told = text_of(browser, "#panel-0 .picked");
  CAPTURE(told);
  CHECK(number_after(told, "Fill time if the gate were here") > 0);
  CHECK(faults_for_people(browser) == "");
}
