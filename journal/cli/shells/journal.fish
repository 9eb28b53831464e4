function __journal_words
    set -l current (commandline -ct)
    set -l words (commandline -opc) "$current"
    set -l found (journal complete-words (math (count $words) - 2) $words[2..-1] 2>/dev/null)
    if test (count $found) -eq 0
        __fish_complete_path "$current"
    else
        printf '%s\n' $found
    end
end
complete -c journal -f -a '(__journal_words)'
