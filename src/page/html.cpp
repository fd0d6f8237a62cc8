// SPDX-License-Identifier: MIT
#include "meltlag/page/html.hpp"

#include <fmt/format.h>

#include "embedded.hpp"

namespace meltlag::page {
namespace {

constexpr std::string_view replacement = "\xEF\xBF\xBD";

// Length of the UTF-8 sequence at the beginning of `text`, 0 where there is none.
std::size_t sequence_length(std::string_view text) {
  auto const lead = static_cast<unsigned char>(text[0]);
  std::size_t const length = lead < 0x80                    ? 1
                             : lead >= 0xC2 && lead < 0xE0  ? 2
                             : (lead & 0xF0) == 0xE0        ? 3
                             : lead >= 0xF0 && lead <= 0xF4 ? 4
                                                            : 0;
  if (length == 0 || text.size() < length) return 0;
  for (std::size_t i = 1; i < length; ++i) {
    if ((static_cast<unsigned char>(text[i]) & 0xC0) != 0x80) return 0;
  }
  return length;
}

void append_escaped(std::string& out, char c) {
  switch (c) {
    case '&':
      out += "&amp;";
      break;
    case '<':
      out += "&lt;";
      break;
    case '>':
      out += "&gt;";
      break;
    case '"':
      out += "&quot;";
      break;
    case '\'':
      out += "&#39;";
      break;
    default: {
      bool const control = static_cast<unsigned char>(c) < ' ' && c != '\n' && c != '\t';
      control ? out += replacement : out += c;
    }
  }
}

// Nothing may be fetched, so that the page shows the same everywhere and contacts no server.
constexpr std::string_view head_start = R"(<!DOCTYPE html>
<html lang="en" data-errors="0">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data: blob:">
<script>
(function () {
  var root = document.documentElement;
  window.addEventListener('error', function (event) {
    root.dataset.errors = String(Number(root.dataset.errors) + 1);
    root.dataset.firstError = root.dataset.firstError || String(event.message);
  });
})();
</script>
)";

// A percent sign stays with its number.
std::string flowing(std::string_view text) {
  std::string out = escape_html(text);
  for (std::size_t at = 0; (at = out.find(" %", at)) != std::string::npos;) {
    out.replace(at, 1, "&nbsp;");
  }
  return out;
}

std::string notice_text(Notice const& notice) {
  if (notice.lines.empty()) return notice.text;
  if (notice.count == 1) return fmt::format("{} (line {})", notice.text, notice.lines[0]);
  return fmt::format("{} ({} times, first in line {})", notice.text, notice.count, notice.lines[0]);
}

}  // namespace

std::string escape_html(std::string_view text) {
  std::string out;
  out.reserve(text.size());
  while (!text.empty()) {
    std::size_t const length = sequence_length(text);
    if (length == 0) {
      out += replacement;
    } else if (length == 1) {
      append_escaped(out, text[0]);
    } else {
      out += text.substr(0, length);
    }
    text.remove_prefix(length == 0 ? 1 : length);
  }
  return out;
}

HtmlPage::HtmlPage(Out const& out, PageHead const& head) : out_(out) {
  std::string const title = escape_html(head.title);
  out_(head_start);
  out_(fmt::format("<title>{}</title>\n<style>\n", title));
  out_(embedded::chart_style);
  out_(embedded::page_style);
  out_("</style>\n<!--\n");
  out_(embedded::chart_licence);
  out_("-->\n</head>\n<body>\n<a class=\"skip\" href=\"#main\">To the figures</a>\n<header>\n");
  out_(fmt::format("<h1>{}</h1>\n<p>{}</p>\n</header>\n<main id=\"main\">\n",
                   title,
                   escape_html(head.subtitle)));
}

void HtmlPage::section(std::string_view id, std::string_view heading, std::string_view lead) {
  if (in_section_) out_("</section>\n");
  in_section_ = true;
  out_(fmt::format("<section id=\"{}\">\n<h2>{}</h2>\n", escape_html(id), escape_html(heading)));
  if (!lead.empty()) out_(fmt::format("<p class=\"lead\">{}</p>\n", escape_html(lead)));
}

void HtmlPage::paragraph(std::string_view text) { out_(fmt::format("<p>{}</p>\n", flowing(text))); }

void HtmlPage::warning(std::string_view text) {
  out_(fmt::format("<p class=\"warning\">{}</p>\n", flowing(text)));
}

void HtmlPage::profile(std::string_view title, std::string_view text) {
  out_(fmt::format("<details class=\"profile\"><summary>{}</summary>\n<pre>{}</pre></details>\n",
                   escape_html(title),
                   escape_html(text)));
}

void HtmlPage::cautions(std::vector<std::string> const& sentences,
                        std::vector<Notice> const& notices) {
  out_("<ul class=\"cautions\">\n");
  for (std::string const& text : sentences) out_(fmt::format("<li>{}</li>\n", flowing(text)));
  for (Notice const& notice : notices) {
    out_(fmt::format("<li>{}</li>\n", flowing(notice_text(notice))));
  }
  out_("</ul>\n");
}

void HtmlPage::finish() {
  if (in_section_) out_("</section>\n");
  out_("</main>\n<script>\n");
  out_(embedded::chart_script);
  out_("</script>\n<script>\n");
  out_(embedded::page_script);
  out_("</script>\n</body>\n</html>\n");
}

}  // namespace meltlag::page
