// SPDX-License-Identifier: MIT
// Pages of HTML that stand alone: style, scripts and data are all inside, nothing is ever fetched.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "meltlag/base/diagnostic.hpp"
#include "meltlag/report/out.hpp"

namespace meltlag::page {

using report::Out;

// Text as it may stand in an element or a quoted attribute; bytes that are no UTF-8 become U+FFFD.
[[nodiscard]] std::string escape_html(std::string_view text);

struct PageHead {
  std::string title;     // of the window and the page
  std::string subtitle;  // beneath it: files, profile
};

// A page on its way out. Blocks (html_blocks.hpp) write themselves through out() in between. The
// page counts what goes wrong in its scripts in <html data-errors>, and sets data-ready when all is
// drawn.
class HtmlPage {
 public:
  // `out` must outlive this. Writes head, style and scripts at once.
  HtmlPage(Out const& out, PageHead const& head);
  // Begins a section; the one before it ends. `id` is for links; `lead` may be empty.
  void section(std::string_view id, std::string_view heading, std::string_view lead);
  // A paragraph of plain text.
  void paragraph(std::string_view text);
  // The same, to be seen first.
  void warning(std::string_view text);
  // The profile's text, folded away.
  void profile(std::string_view title, std::string_view text);
  // What the figures leave out, one item each; notices with their lines.
  void cautions(std::vector<std::string> const& sentences, std::vector<Notice> const& notices);
  // Ends the page. Call last.
  void finish();
  [[nodiscard]] Out const& out() const { return out_; }

 private:
  Out const& out_;
  bool in_section_ = false;
};

}  // namespace meltlag::page
