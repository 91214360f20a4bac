#include "sim/text_lines.h"

#include <cstring>

#include <fmt/format.h>

#include "sim/input_error.h"
#include "sim/read_file.h"

namespace aircut::sim {
namespace {

constexpr std::size_t kBufferBytes = std::size_t{1} << 20;
constexpr std::size_t kMaxLineBytes = std::size_t{1} << 16;
constexpr int kMaxLines = 2'000'000'000;
constexpr std::string_view kByteOrderMark = "\xef\xbb\xbf";

}  // namespace

TextLines::TextLines(const std::filesystem::path& file)
    : label_(file.string()), file_(nullptr, &std::fclose), buffer_(kBufferBytes) {
  RequireFile(file);
  file_.reset(std::fopen(file.c_str(), "rb"));
  if (!file_) throw InputError(label_ + ": cannot be read: check that it may be opened");
}

std::string TextLines::Place() const { return fmt::format("{}:{}", label_, line_); }

void TextLines::RequireLength(std::size_t bytes) const {
  if (line_ < kMaxLines && bytes <= kMaxLineBytes) return;
  throw InputError(fmt::format("{}:{}: the line is longer than {} bytes: a path has one statement a line; "
                               "check that this is the right file",
                               label_, line_ + 1, kMaxLineBytes));
}

void TextLines::Fill() {
  std::memmove(buffer_.data(), buffer_.data() + begin_, end_ - begin_);
  end_ -= begin_;
  begin_ = 0;
  const std::size_t got = std::fread(buffer_.data() + end_, 1, buffer_.size() - end_, file_.get());
  if (got == 0) {
    if (std::ferror(file_.get()) != 0) throw InputError(label_ + ": reading broke off: check the disk");
    is_at_end_ = true;
  }
  end_ += got;
}

bool TextLines::Next() {
  while (true) {
    const char* start = buffer_.data() + begin_;
    const std::size_t left = end_ - begin_;
    const auto* newline = static_cast<const char*>(std::memchr(start, '\n', left));
    if (newline == nullptr && !is_at_end_) {
      RequireLength(left);
      Fill();
      continue;
    }
    if (newline == nullptr && left == 0) return false;
    const std::size_t size = newline != nullptr ? static_cast<std::size_t>(newline - start) : left;
    RequireLength(size);
    text_ = std::string_view(start, size);
    begin_ += size + (newline != nullptr ? 1 : 0);
    ++line_;
    if (line_ == 1 && text_.substr(0, 3) == kByteOrderMark) text_.remove_prefix(3);
    if (!text_.empty() && text_.back() == '\r') text_.remove_suffix(1);
    return true;
  }
}

}  // namespace aircut::sim
