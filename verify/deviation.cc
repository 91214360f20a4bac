#include "verify/deviation.h"
