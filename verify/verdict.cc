#include "verify/verdict.h"
