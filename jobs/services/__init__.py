"""One verb each; every public function here is one transaction."""
