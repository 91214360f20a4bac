// The program's operator new: blocks of several MB are asked for in large pages. Fresh
// memory costs a fault a page, and where those are dear, as in virtual machines, a third
// of the time of a cut goes into them; a large page takes 512 of them at once.
// All else is the library's way. Linked into every program that uses this library.
#include "sim/large_blocks.h"

#include <cstdint>
#include <cstdlib>
#include <new>

#include <sys/mman.h>
#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>

namespace {

constexpr std::size_t kLargePage = std::size_t{2} << 20;

}  // namespace

namespace aircut::sim {

void FaultIn(void* block, std::size_t bytes, int threads) {
#ifdef MADV_POPULATE_WRITE
  const std::uintptr_t begin = reinterpret_cast<std::uintptr_t>(block), end = begin + bytes;
  const std::uintptr_t first = (begin + kLargePage - 1) / kLargePage, last = end / kLargePage;
  if (first >= last) return;
  tbb::task_arena arena(threads);
  arena.execute([&] {
    tbb::parallel_for(first, last, [](std::uintptr_t page) {
      madvise(reinterpret_cast<void*>(page * kLargePage), kLargePage, MADV_POPULATE_WRITE);
    });
  });
#else
  static_cast<void>(block), static_cast<void>(bytes), static_cast<void>(threads);
#endif
}

}  // namespace aircut::sim

// The sanitizers bring their own.
#if !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)

namespace {

constexpr std::size_t kLarge = 2 * kLargePage;

// Null where there is no memory.
void* Block(std::size_t size) {
  if (size < kLarge) return std::malloc(size > 0 ? size : 1);
  const std::size_t whole = (size + kLargePage - 1) / kLargePage * kLargePage;
  if (whole < size) return nullptr;
  void* block = std::aligned_alloc(kLargePage, whole);
  // A wish: where the system has none, small pages do.
  if (block != nullptr) madvise(block, whole, MADV_HUGEPAGE);
  return block;
}

}  // namespace

void* operator new(std::size_t size) {
  for (;;) {
    if (void* block = Block(size)) return block;
    const std::new_handler handler = std::get_new_handler();
    if (handler == nullptr) throw std::bad_alloc();
    handler();
  }
}

void operator delete(void* block) noexcept { std::free(block); }
void operator delete(void* block, std::size_t) noexcept { std::free(block); }

#endif
