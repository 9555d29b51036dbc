#include "tests/browser/page_use.hpp"

#include <doctest/doctest.h>

#include <algorithm>

namespace tidemark {

using Json = nlohmann::json;

Point middle_of(Browser& browser, const std::string& selector) {
  const Json box = browser.evaluate("(() => { const e = document.querySelector('" + selector +
                                    "'); e.scrollIntoView({block: 'center'}); const b = "
                                    "e.getBoundingClientRect(); return [b.left "
                                    "+ b.width / 2, b.top + b.height / 2]; })()");
  return {box[0], box[1]};
}

Json picture(Browser& browser, int number) {
  return browser.evaluate(
      "((number) => " +
      std::string(R"(new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => {
    const canvas = document.querySelectorAll('.stage canvas[tabindex]')[number];
    const copy = document.createElement('canvas');
    copy.width = canvas.width; copy.height = canvas.height;
    const context = copy.getContext('2d');
    context.drawImage(canvas, 0, 0);
    const data = context.getImageData(0, 0, copy.width, copy.height).data;
    const pixels = [];
    for (let y = 0; y < copy.height; y += 4)
      for (let x = 0; x < copy.width; x += 4) {
        const i = 4 * (y * copy.width + x);
        pixels.push([data[i], data[i + 1], data[i + 2]]);
      }
    done(pixels);
  }))))") +
      ")(" + std::to_string(number) + ")");
}

double coloured(const Json& pixels) {
  double count = 0;
  for (const Json& pixel : pixels) {
    const auto [low, high] =
        std::minmax({pixel[0].get<int>(), pixel[1].get<int>(), pixel[2].get<int>()});
    count += high - low > 24 ? 1 : 0;
  }
  return count;
}

void set_slider(Browser& browser, int value) {
  browser.evaluate("(() => { const s = document.querySelector('input[type=range]'); s.value = " +
                   std::to_string(value) + "; s.dispatchEvent(new Event('input')); })()");
}

std::string text_of(Browser& browser, const std::string& selector) {
  return browser.evaluate("document.querySelector('" + selector + "').textContent");
}

double number_after(const std::string& text, const std::string& words) {
  const std::size_t at = text.find(words);
  REQUIRE(at != std::string::npos);
  return std::stod(text.substr(at + words.size()));
}

void leave_only_colours(Browser& browser) {
  browser.evaluate("document.querySelectorAll('.check input').forEach(box => { if (box.checked) "
                   "box.click(); })");
}

void set_scheme(Browser& browser, const std::string& scheme) {
  browser.send(
      "Emulation.setEmulatedMedia",
      {{"features", Json::array({{{"name", "prefers-color-scheme"}, {"value", scheme}}})}});
}

std::string faults_for_people(Browser& browser) {
  browser.evaluate(read_file(TIDEMARK_AXE_JS) + "; 1");
  CHECK(browser.evaluate("axe.run(document).then(r => r.passes.length)") > 20); // it looked
  std::string faults;
  for (const char* scheme : {"light", "dark"}) {
    set_scheme(browser, scheme);
    for (const Json& fault : browser.evaluate(
             "axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', "
             "'wcag22aa']}).then(r => r.violations.map(v => v.id + ': ' + v.nodes[0].html + ' ' + "
             "v.nodes[0].failureSummary))")) {
      faults += std::string(scheme) + ": " + fault.get<std::string>() + "\n";
    }
  }
  return faults;
}

} // namespace tidemark
