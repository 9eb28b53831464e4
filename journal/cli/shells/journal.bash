_journal() {
    local IFS=$'\n'
    local at=$((COMP_CWORD - 1))
    COMPREPLY=($(journal complete-words "$at" "${COMP_WORDS[@]:1}" 2>/dev/null | cut -f1))
}
complete -o default -F _journal journal
