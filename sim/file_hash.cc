#include "sim/file_hash.h"
